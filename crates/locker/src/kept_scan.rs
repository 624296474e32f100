//! Keeping a scan with its design: inside the file, or beside it by content.

use std::path::{Path, PathBuf};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

use crate::{Companion, KeptFile, KeptScan, LockerError};

/// The folder beside a design that scans are put in.
const FOLDER: &str = "scans";

/// A scan and the files that it names, as bytes.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ScanBytes {
    /// The scan file.
    pub file: Vec<u8>,
    /// Name that the scan uses, and content.
    pub companions: Vec<(String, Vec<u8>)>,
}

impl ScanBytes {
    /// The content of the file that the scan calls `name`.
    #[must_use]
    pub fn companion(&self, name: &str) -> Option<Vec<u8>> {
        self.companions.iter().find(|(known, _)| known == name).map(|(_, bytes)| bytes.clone())
    }

    fn kept(&self, mut keep: impl FnMut(&[u8]) -> Result<KeptFile, LockerError>) -> Result<KeptScan, LockerError> {
        let file = keep(&self.file)?;
        let companions = self
            .companions
            .iter()
            .map(|(name, bytes)| Ok(Companion { name: name.clone(), file: keep(bytes)? }))
            .collect::<Result<_, LockerError>>()?;
        Ok(KeptScan { file, companions })
    }
}

/// Keeps a scan inside the design file.
///
/// # Errors
/// None so far; the same as [`keep_beside`] for the caller's sake.
pub fn keep_inside(scan: &ScanBytes) -> Result<KeptScan, LockerError> {
    scan.kept(|bytes| Ok(KeptFile { inside: Some(STANDARD.encode(bytes)), ..named(bytes) }))
}

/// Keeps a picture inside the design file.
#[must_use]
pub fn keep_picture(bytes: &[u8]) -> KeptFile {
    KeptFile { inside: Some(STANDARD.encode(bytes)), ..named(bytes) }
}

/// The bytes of a picture that is kept inside the design file.
///
/// # Errors
/// What is inside the design is damaged.
pub fn load_picture(kept: &KeptFile) -> Result<Vec<u8>, LockerError> {
    load_file(kept, Path::new(""))
}

/// Keeps a scan in the folder `scans` beside a design in `folder`.
///
/// # Errors
/// The folder or a file in it cannot be written.
pub fn keep_beside(scan: &ScanBytes, folder: &Path) -> Result<KeptScan, LockerError> {
    let scans = folder.join(FOLDER);
    std::fs::create_dir_all(&scans).map_err(|source| LockerError::Folder { path: scans.clone(), source })?;
    scan.kept(|bytes| {
        let kept = named(bytes);
        let path = scans.join(file_name(&kept));
        if !holds(&path, &kept) {
            mesh::write::save_atomic(&path, |out| out.write_all(bytes))?;
        }
        Ok(kept)
    })
}

/// The bytes of a kept scan; `folder` is where its design lies.
///
/// # Errors
/// The scan is not there, or what is inside the design is damaged.
pub fn load_scan(kept: &KeptScan, folder: &Path) -> Result<ScanBytes, LockerError> {
    let companions = kept
        .companions
        .iter()
        .map(|c| Ok((c.name.clone(), load_file(&c.file, folder)?)))
        .collect::<Result<_, LockerError>>()?;
    Ok(ScanBytes { file: load_file(&kept.file, folder)?, companions })
}

fn load_file(kept: &KeptFile, folder: &Path) -> Result<Vec<u8>, LockerError> {
    if let Some(text) = &kept.inside {
        let bytes =
            STANDARD.decode(text).map_err(|_| LockerError::ScanDamaged { what: "it is no base 64 text".into() })?;
        if hash(&bytes) != kept.sha256 {
            return Err(LockerError::ScanDamaged { what: "its content does not match its sha256".into() });
        }
        return Ok(bytes);
    }
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let usual = [folder.join(FOLDER).join(file_name(kept)), folder.join(file_name(kept))];
    let places = usual
        .into_iter()
        .chain(files_of_size(&folder.join(FOLDER), kept.bytes))
        .chain(files_of_size(folder, kept.bytes));
    for path in places {
        if let Some(bytes) = read_if(&path, kept) {
            return Ok(bytes);
        }
    }
    Err(LockerError::ScanMissing { sha256: kept.sha256.clone(), folder: folder.to_owned() })
}

/// All plain files of that length in a folder, by name.
fn files_of_size(folder: &Path, bytes: u64) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut found: Vec<PathBuf> = entries
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.metadata().is_ok_and(|about| about.is_file() && about.len() == bytes))
        .collect();
    found.sort();
    found
}

fn read_if(path: &Path, kept: &KeptFile) -> Option<Vec<u8>> {
    // The length is looked at first, so that no large file is read for nothing.
    path.metadata().ok().filter(|about| about.is_file() && about.len() == kept.bytes)?;
    std::fs::read(path).ok().filter(|bytes| hash(bytes) == kept.sha256)
}

/// Where [`keep_beside`] puts a file, below the folder of its design, with `/` between folders.
#[must_use]
pub fn place_beside(kept: &KeptFile) -> String {
    format!("{FOLDER}/{}", file_name(kept))
}

fn holds(path: &Path, kept: &KeptFile) -> bool {
    read_if(path, kept).is_some()
}

fn named(bytes: &[u8]) -> KeptFile {
    KeptFile { sha256: hash(bytes), bytes: bytes.len() as u64, inside: None }
}

fn file_name(kept: &KeptFile) -> String {
    format!("{}.scan", kept.sha256)
}

fn hash(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample() -> ScanBytes {
        ScanBytes { file: b"abc".to_vec(), companions: vec![("skin.png".into(), vec![0, 255, 7])] }
    }

    /// SHA-256 of "abc": FIPS 180-4, example B.1.
    #[test]
    fn content_is_named_by_its_standard_hash() {
        assert_eq!(hash(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn a_scan_inside_comes_back_and_damage_is_seen() {
        let mut kept = keep_inside(&sample()).unwrap();
        assert_eq!(load_scan(&kept, Path::new("nowhere")).unwrap(), sample());
        kept.file.inside = Some("YWJk".into());
        assert!(load_scan(&kept, Path::new("nowhere")).unwrap_err().to_string().contains("damaged"));
        kept.file.inside = Some("*".into());
        assert!(load_scan(&kept, Path::new("nowhere")).unwrap_err().to_string().contains("damaged"));
    }

    #[test]
    fn a_scan_beside_is_found_by_content_whatever_it_is_called() {
        let folder = tempfile::tempdir().unwrap();
        let kept = keep_beside(&sample(), folder.path()).unwrap();
        let scans = folder.path().join("scans");
        let usual = scans.join(file_name(&kept.file));
        std::fs::write(scans.join("aaa.txt"), b"xyz").unwrap();
        std::fs::rename(&usual, scans.join("renamed")).unwrap();
        assert_eq!(load_scan(&kept, folder.path()).unwrap(), sample());
        std::fs::rename(scans.join("renamed"), folder.path().join("moved up.ply")).unwrap();
        assert_eq!(load_scan(&kept, folder.path()).unwrap(), sample());
        std::fs::write(folder.path().join("moved up.ply"), b"abd").unwrap();
        let error = load_scan(&kept, folder.path()).unwrap_err();
        assert!(matches!(error, LockerError::ScanMissing { .. }), "{error}");
    }
}
