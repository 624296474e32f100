//! Reading a scan together with the files that it names.

use std::cell::RefCell;
use std::path::Path;

use locker::{KeptScan, ScanBytes, load_scan};
use mesh::Job;
use mesh::read::{ReadError, ScanFile, read_bytes, whole_file};

use crate::EngineError;

/// A scan that was read, and the bytes that it was read from.
#[derive(Debug, Clone)]
pub struct LoadedScan {
    /// What the file holds.
    pub scan: ScanFile,
    /// The files as they were.
    pub bytes: ScanBytes,
}

/// Reads a scan file, and the files that it names from its own folder.
///
/// # Errors
/// The file is not there, is of another kind, or is damaged.
pub fn read_scan(path: &Path, job: &Job) -> Result<LoadedScan, EngineError> {
    let bytes = whole_file(path, job).map_err(|error| match error {
        ReadError::Unreadable { source, .. } => EngineError::File { path: path.into(), source },
        error => error.into(),
    })?;
    let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
    let folder = path.parent().unwrap_or(Path::new("")).to_owned();
    let beside = |name: &str| mesh::read::companion_in(&folder, name);
    load(bytes, &name, &beside, job)
}

/// Reads the scan of a design that lies in `folder`.
///
/// # Errors
/// The scan is not there or damaged.
pub fn read_kept(kept: &KeptScan, folder: &Path, job: &Job) -> Result<LoadedScan, EngineError> {
    let bytes = load_scan(kept, folder, job)?;
    let name = format!("scan {}…", kept.file.sha256.get(..12).unwrap_or_default());
    let companions = bytes.clone();
    load(bytes.file, &name, &|name: &str| companions.companion(name), job)
}

fn load(
    file: Vec<u8>,
    name: &str,
    companions: &dyn Fn(&str) -> Option<Vec<u8>>,
    job: &Job,
) -> Result<LoadedScan, EngineError> {
    let used: RefCell<Vec<(String, Vec<u8>)>> = RefCell::default();
    let remember = |name: &str| {
        let bytes = companions(name)?;
        let mut used = used.borrow_mut();
        if !used.iter().any(|(known, _)| known == name) {
            used.push((name.to_owned(), bytes.clone()));
        }
        Some(bytes)
    };
    let scan = read_bytes(&file, name, &remember, job)?;
    Ok(LoadedScan { scan, bytes: ScanBytes { file, companions: used.into_inner() } })
}
