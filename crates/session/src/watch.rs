//! A folder where a scanner saves: says when a new scan is complete.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant, SystemTime};

/// Time between two looks.
const EVERY: Duration = Duration::from_millis(700);
/// Endings of files that may be scans.
const ENDINGS: [&str; 3] = ["stl", "obj", "ply"];

/// Watches one folder by looking at it now and then, which works on every system and on network drives.
#[derive(Debug)]
pub struct Watch {
    folder: PathBuf,
    looked: Option<Instant>,
    /// Size and time of each scan at the last look, and whether it was reported or there from the start.
    seen: BTreeMap<PathBuf, (u64, Option<SystemTime>, bool)>,
}

impl Watch {
    /// Starts to watch; what lies there already is not new.
    #[must_use]
    pub fn new(folder: &Path) -> Self {
        let mut watch = Self { folder: folder.to_owned(), looked: None, seen: BTreeMap::new() };
        for (path, size, time) in watch.scans() {
            watch.seen.insert(path, (size, time, true));
        }
        watch
    }

    /// The folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// New scans whose files have stopped growing.
    pub fn poll(&mut self) -> Vec<PathBuf> {
        if self.looked.is_some_and(|at| at.elapsed() < EVERY) {
            return Vec::new();
        }
        self.looked = Some(Instant::now());
        self.look()
    }

    fn look(&mut self) -> Vec<PathBuf> {
        let mut new = Vec::new();
        for (path, size, time) in self.scans() {
            match self.seen.get_mut(&path) {
                Some((last_size, last_time, told)) if (*last_size, *last_time) == (size, time) => {
                    if !*told && size > 0 {
                        *told = true;
                        new.push(path);
                    }
                }
                // New, or written again.
                _ => {
                    self.seen.insert(path, (size, time, false));
                }
            }
        }
        new
    }

    fn scans(&self) -> Vec<(PathBuf, u64, Option<SystemTime>)> {
        let Ok(entries) = std::fs::read_dir(&self.folder) else { return Vec::new() };
        let mut scans: Vec<_> = entries
            .filter_map(|entry| {
                let path = entry.ok()?.path();
                let ending = path.extension()?.to_string_lossy().to_lowercase();
                let about = std::fs::metadata(&path).ok()?;
                (ENDINGS.contains(&ending.as_str()) && about.is_file())
                    .then(|| (path, about.len(), about.modified().ok()))
            })
            .collect();
        scans.sort();
        scans
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scan_is_told_of_once_when_it_has_stopped_growing() {
        let folder = tempfile::tempdir().unwrap();
        let file = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
        file("old.stl", "was here");
        let mut watch = Watch::new(folder.path());
        assert!(watch.look().is_empty());
        file("new.PLY", "half");
        file("notes.txt", "no scan");
        assert!(watch.look().is_empty(), "it may still grow");
        file("new.PLY", "half and half");
        assert!(watch.look().is_empty(), "it did");
        assert_eq!(watch.look(), vec![folder.path().join("new.PLY")]);
        assert!(watch.look().is_empty());
        file("old.stl", "scanned again over the old one");
        watch.look();
        assert_eq!(watch.look(), vec![folder.path().join("old.stl")]);
        std::fs::remove_file(folder.path().join("new.PLY")).unwrap();
        assert!(watch.look().is_empty());
    }
}
