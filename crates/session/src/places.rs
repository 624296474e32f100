//! The folders of settings and unsaved work.

use std::path::{Path, PathBuf};

/// Where the program keeps what it remembers.
#[derive(Debug, Clone)]
pub struct Places {
    /// Folder of the preferences.
    pub settings: PathBuf,
    /// Folder of unsaved work.
    pub recovery: PathBuf,
}

impl Places {
    /// The system's usual folders; if it has none, a folder in the working directory.
    #[must_use]
    pub fn usual() -> Self {
        let folders = directories::ProjectDirs::from("", "", "pauldron");
        let here = PathBuf::from("pauldron-settings");
        Self {
            settings: folders.as_ref().map_or_else(|| here.clone(), |f| f.config_dir().to_owned()),
            recovery: folders.map_or(here, |f| f.data_local_dir().to_owned()).join("unsaved"),
        }
    }

    /// Both inside one folder, as for `--home` and tests.
    #[must_use]
    pub fn inside(folder: &Path) -> Self {
        Self { settings: folder.join("settings"), recovery: folder.join("unsaved") }
    }

    /// File of the user's own filaments.
    #[must_use]
    pub fn own_materials(&self) -> PathBuf {
        self.settings.join("materials.json")
    }

    /// File of the preferences.
    #[must_use]
    pub fn preferences(&self) -> PathBuf {
        self.settings.join("preferences.json")
    }
}
