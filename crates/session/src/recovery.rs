//! Autosave after every change, so that a crash or a flat battery loses no more than a second of it.
//!
//! Each running program has a folder of its own with a lock that the system releases when the program ends, however it
//! ends. An unlocked folder that still holds a design was left behind.

use std::fs::{File, OpenOptions};
use std::path::{Path, PathBuf};

use locker::DesignFile;
use serde::{Deserialize, Serialize};

use crate::Problem;

const LOCK: &str = "lock";
const DESIGN: &str = "design.json";
const ABOUT: &str = "about.json";
/// Most folders that are searched.
const MOST: usize = 200;

/// This program's own folder.
#[derive(Debug)]
pub struct Recovery {
    folder: PathBuf,
    // Holds the lock for as long as the program runs.
    _lock: File,
}

/// Unsaved work of a sitting that ended unexpectedly.
#[derive(Debug, Clone, PartialEq)]
pub struct UnsavedDesign {
    /// Its folder.
    pub folder: PathBuf,
    /// The design in it; its scan lies beside it.
    pub design: PathBuf,
    /// Where the design had been saved before, if anywhere.
    pub saved_as: Option<PathBuf>,
    /// Title of the design.
    pub title: String,
}

#[derive(Serialize, Deserialize)]
struct About {
    saved_as: Option<PathBuf>,
    title: String,
}

impl Recovery {
    /// Takes a free folder below `root`; also returns the unsaved work found there.
    ///
    /// # Errors
    /// The folder cannot be made or locked.
    pub fn begin(root: &Path) -> Result<(Self, Vec<UnsavedDesign>), Problem> {
        let cannot = |path: &Path, e: &std::io::Error| {
            Problem::plain(format!(
                "unsaved work cannot be kept in {}: {e}; check the disk and its permissions",
                path.display()
            ))
        };
        std::fs::create_dir_all(root).map_err(|e| cannot(root, &e))?;
        let (mut own, mut left) = (None, Vec::new());
        for number in 0..MOST {
            let folder = root.join(number.to_string());
            let exists = folder.is_dir();
            if !exists && own.is_some() {
                continue;
            }
            std::fs::create_dir_all(&folder).map_err(|e| cannot(&folder, &e))?;
            let path = folder.join(LOCK);
            let lock = OpenOptions::new()
                .create(true)
                .truncate(false)
                .write(true)
                .open(&path)
                .map_err(|e| cannot(&path, &e))?;
            if lock.try_lock().is_err() {
                continue;
            }
            if let Some(unsaved) = unsaved(&folder) {
                left.push(unsaved);
            } else if own.is_none() {
                own = Some(Self { folder, _lock: lock });
            } else {
                // Free and empty: not needed.
                drop(lock);
                let _ = std::fs::remove_dir_all(&folder);
            }
        }
        let own = own.ok_or_else(|| {
            Problem::plain(format!("there are too many unsaved designs in {}; open or remove some", root.display()))
        })?;
        Ok((own, left))
    }

    /// The folder, where scans may be kept beside the design.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Writes the design, whole or not at all. Its scan must be kept beside it or inside.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn autosave(folder: &Path, design: &DesignFile, saved_as: Option<&Path>) -> Result<(), Problem> {
        let about = About { saved_as: saved_as.map(Path::to_owned), title: design.title.clone() };
        let about = serde_json::to_vec(&about).map_err(|e| Problem::plain(e.to_string()))?;
        mesh::write::save_atomic(&folder.join(ABOUT), |out| out.write_all(&about))
            .map_err(|e| Problem::plain(e.to_string()))?;
        locker::save_design(design, &folder.join(DESIGN)).map_err(|e| Problem::plain(e.to_string()))
    }

    /// Removes the autosaved design: nothing is unsaved any more.
    pub fn done(&self) {
        for name in [DESIGN, ABOUT] {
            let _ = std::fs::remove_file(self.folder.join(name));
        }
    }

    /// Throws unsaved work away.
    ///
    /// # Errors
    /// The folder cannot be removed.
    pub fn discard(unsaved: &UnsavedDesign) -> Result<(), Problem> {
        std::fs::remove_dir_all(&unsaved.folder)
            .map_err(|e| Problem::plain(format!("{} cannot be removed: {e}", unsaved.folder.display())))
    }
}

fn unsaved(folder: &Path) -> Option<UnsavedDesign> {
    let design = folder.join(DESIGN);
    if !design.is_file() {
        return None;
    }
    let about = std::fs::read(folder.join(ABOUT)).ok().and_then(|b| serde_json::from_slice::<About>(&b).ok());
    let (saved_as, title) = about.map_or((None, String::new()), |a| (a.saved_as, a.title));
    Some(UnsavedDesign { folder: folder.to_owned(), design, saved_as, title })
}
