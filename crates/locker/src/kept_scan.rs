//! Keeping a scan with its design: inside the file, or beside it by content.

use std::path::{Path, PathBuf};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

use mesh::read::ReadError;
use mesh::write::StagedFile;
use mesh::{Cancelled, Job};

use crate::{Companion, KeptFile, KeptScan, LockerError};

/// The folder beside a design that scans are put in.
const FOLDER: &str = "scans";
/// Bytes between two looks at the job: a multiple of the groups of base64, 3 bytes and 4 letters.
const PIECE: usize = 3 << 20;

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
/// Only that the work was stopped.
pub fn keep_inside(scan: &ScanBytes, job: &Job) -> Result<KeptScan, LockerError> {
    scan.kept(|bytes| {
        let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
        for piece in bytes.chunks(PIECE) {
            job.check()?;
            STANDARD.encode_string(piece, &mut text);
        }
        Ok(KeptFile { inside: Some(text), ..named(bytes, job)? })
    })
}

/// Keeps a picture inside the design file.
#[must_use]
pub fn keep_picture(bytes: &[u8]) -> KeptFile {
    let kept = KeptFile { sha256: hex(&Sha256::digest(bytes)), bytes: bytes.len() as u64, inside: None };
    KeptFile { inside: Some(STANDARD.encode(bytes)), ..kept }
}

/// The bytes of a picture that is kept inside the design file.
///
/// # Errors
/// What is inside the design is damaged.
pub fn load_picture(kept: &KeptFile) -> Result<Vec<u8>, LockerError> {
    load_file(kept, Path::new(""), &Job::silent())
}

/// Keeps a scan in the folder `scans` beside a design in `folder`.
///
/// # Errors
/// The folder or a file in it cannot be written, or the work was stopped; nothing is left behind then.
pub fn keep_beside(scan: &ScanBytes, folder: &Path, job: &Job) -> Result<KeptScan, LockerError> {
    let staged = stage_beside(scan, folder, job)?;
    let kept = staged.kept.clone();
    staged.put_in_place()?;
    Ok(kept)
}

/// Writes a scan for [`keep_beside`] under temporary names.
///
/// # Errors
/// As [`keep_beside`].
pub fn stage_beside(scan: &ScanBytes, folder: &Path, job: &Job) -> Result<StagedScan, LockerError> {
    let scans = folder.join(FOLDER);
    let new_folder = (!scans.exists()).then(|| scans.clone());
    std::fs::create_dir_all(&scans).map_err(|source| LockerError::Folder { path: scans.clone(), source })?;
    let mut files = StagedFiles { files: Vec::new(), new_folder };
    let kept = scan.kept(|bytes| {
        let kept = named(bytes, job)?;
        let path = scans.join(file_name(&kept));
        if read_if(&path, &kept, job)?.is_none() {
            files.files.push(StagedFile::write(&path, bytes, job)?);
        }
        Ok(kept)
    })?;
    Ok(StagedScan { kept, files })
}

/// A scan written beside its design under temporary names; dropped, it is deleted.
#[derive(Debug)]
pub struct StagedScan {
    kept: KeptScan,
    files: StagedFiles,
}

impl StagedScan {
    /// How the design will name it.
    #[must_use]
    pub fn kept(&self) -> &KeptScan {
        &self.kept
    }

    /// Renames its files to their own names.
    ///
    /// # Errors
    /// The system refuses.
    pub fn put_in_place(mut self) -> Result<(), LockerError> {
        for file in std::mem::take(&mut self.files.files) {
            file.put_in_place()?;
            self.files.new_folder = None;
        }
        Ok(())
    }
}

#[derive(Debug)]
struct StagedFiles {
    files: Vec<StagedFile>,
    /// Their folder, where it was made for them and is still empty.
    new_folder: Option<PathBuf>,
}

impl Drop for StagedFiles {
    fn drop(&mut self) {
        self.files.clear();
        if let Some(folder) = &self.new_folder {
            // Fails, as it should, where somebody else has put something into it.
            let _ = std::fs::remove_dir(folder);
        }
    }
}

/// The bytes of a kept scan; `folder` is where its design lies.
///
/// # Errors
/// The scan is not there, what is inside the design is damaged, or the work was stopped.
pub fn load_scan(kept: &KeptScan, folder: &Path, job: &Job) -> Result<ScanBytes, LockerError> {
    let companions = kept
        .companions
        .iter()
        .map(|c| Ok((c.name.clone(), load_file(&c.file, folder, job)?)))
        .collect::<Result<_, LockerError>>()?;
    Ok(ScanBytes { file: load_file(&kept.file, folder, job)?, companions })
}

fn load_file(kept: &KeptFile, folder: &Path, job: &Job) -> Result<Vec<u8>, LockerError> {
    if let Some(text) = &kept.inside {
        let bytes = unpacked(text, job)?;
        if sha256(&bytes, job)? != kept.sha256 {
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
        if let Some(bytes) = read_if(&path, kept, job)? {
            return Ok(bytes);
        }
    }
    Err(LockerError::ScanMissing { sha256: kept.sha256.clone(), folder: folder.to_owned() })
}

/// Bytes from base64.
fn unpacked(text: &str, job: &Job) -> Result<Vec<u8>, LockerError> {
    let mut bytes = Vec::with_capacity(text.len() / 4 * 3);
    for piece in text.as_bytes().chunks(PIECE) {
        job.check()?;
        STANDARD
            .decode_vec(piece, &mut bytes)
            .map_err(|_| LockerError::ScanDamaged { what: "it is not base64 text".into() })?;
    }
    Ok(bytes)
}

/// All plain files of that length in a folder, sorted by name.
fn files_of_size(folder: &Path, bytes: u64) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut found: Vec<PathBuf> = entries
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.metadata().is_ok_and(|about| about.is_file() && about.len() == bytes))
        .collect();
    found.sort();
    found
}

/// The bytes of a file, where it is the kept one.
fn read_if(path: &Path, kept: &KeptFile, job: &Job) -> Result<Option<Vec<u8>>, Cancelled> {
    // The length first, so that no large file is read in vain.
    if !path.metadata().is_ok_and(|about| about.is_file() && about.len() == kept.bytes) {
        return Ok(None);
    }
    let bytes = match mesh::read::whole_file(path, job) {
        Ok(bytes) => bytes,
        Err(ReadError::Cancelled(cancelled)) => return Err(cancelled),
        Err(_) => return Ok(None),
    };
    Ok((sha256(&bytes, job)? == kept.sha256).then_some(bytes))
}

/// Where [`keep_beside`] puts a file, below the folder of its design, with `/` between folders.
#[must_use]
pub fn place_beside(kept: &KeptFile) -> String {
    format!("{FOLDER}/{}", file_name(kept))
}

fn named(bytes: &[u8], job: &Job) -> Result<KeptFile, Cancelled> {
    Ok(KeptFile { sha256: sha256(bytes, job)?, bytes: bytes.len() as u64, inside: None })
}

fn file_name(kept: &KeptFile) -> String {
    format!("{}.scan", kept.sha256)
}

/// SHA-256 of bytes (FIPS 180-4), as 64 lower-case hexadecimal digits.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub fn sha256(bytes: &[u8], job: &Job) -> Result<String, Cancelled> {
    let mut hasher = Sha256::new();
    for piece in bytes.chunks(PIECE) {
        job.check()?;
        hasher.update(piece);
    }
    Ok(hex(&hasher.finalize()))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};

    fn sample() -> ScanBytes {
        ScanBytes { file: b"abc".to_vec(), companions: vec![("skin.png".into(), vec![0, 255, 7])] }
    }

    /// SHA-256 of "abc": FIPS 180-4, example B.1.
    #[test]
    fn content_is_named_by_its_standard_hash() {
        assert_eq!(
            sha256(b"abc", &Job::silent()).unwrap(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }

    #[test]
    fn a_scan_inside_comes_back_and_damage_is_seen() {
        let mut kept = keep_inside(&sample(), &Job::silent()).unwrap();
        assert_eq!(load_scan(&kept, Path::new("nowhere"), &Job::silent()).unwrap(), sample());
        kept.file.inside = Some("YWJk".into());
        assert!(load_scan(&kept, Path::new("nowhere"), &Job::silent()).unwrap_err().to_string().contains("damaged"));
        kept.file.inside = Some("*".into());
        assert!(load_scan(&kept, Path::new("nowhere"), &Job::silent()).unwrap_err().to_string().contains("damaged"));
    }

    #[test]
    fn a_scan_beside_is_found_by_content_whatever_it_is_called() {
        let folder = tempfile::tempdir().unwrap();
        let kept = keep_beside(&sample(), folder.path(), &Job::silent()).unwrap();
        let scans = folder.path().join("scans");
        let usual = scans.join(file_name(&kept.file));
        std::fs::write(scans.join("aaa.txt"), b"xyz").unwrap();
        std::fs::rename(&usual, scans.join("renamed")).unwrap();
        assert_eq!(load_scan(&kept, folder.path(), &Job::silent()).unwrap(), sample());
        std::fs::rename(scans.join("renamed"), folder.path().join("moved up.ply")).unwrap();
        assert_eq!(load_scan(&kept, folder.path(), &Job::silent()).unwrap(), sample());
        std::fs::write(folder.path().join("moved up.ply"), b"abd").unwrap();
        let error = load_scan(&kept, folder.path(), &Job::silent()).unwrap_err();
        assert!(matches!(error, LockerError::ScanMissing { .. }), "{error}");
    }

    #[test]
    fn text_of_many_pieces_is_that_of_the_whole() {
        let bytes: Vec<u8> = (0..PIECE + PIECE / 2 + 1).map(|i| (i * i % 251) as u8).collect();
        let scan = ScanBytes { file: bytes.clone(), companions: Vec::new() };
        let kept = keep_inside(&scan, &Job::silent()).unwrap();
        assert_eq!(kept.file.inside.as_ref(), Some(&STANDARD.encode(&bytes)));
        assert_eq!(kept.file.sha256, hex(&Sha256::digest(&bytes)));
        assert_eq!(load_scan(&kept, Path::new("nowhere"), &Job::silent()).unwrap(), scan);
    }

    #[test]
    fn stopped_at_any_look_it_leaves_nothing_behind() {
        for look in 0.. {
            let folder = tempfile::tempdir().unwrap();
            let (flag, left) = (Job::silent(), AtomicUsize::new(look));
            let cancel = flag.clone();
            let job = flag.watched(move || {
                if left.fetch_sub(1, Ordering::Relaxed) == 0 {
                    cancel.cancel();
                }
            });
            match keep_beside(&sample(), folder.path(), &job) {
                Ok(_) => {
                    assert!(look > 2, "it looks at each file more than once");
                    break;
                }
                Err(error) => assert!(matches!(error, LockerError::Cancelled(_)), "{error}"),
            }
            assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0, "look {look}");
        }
    }
}
