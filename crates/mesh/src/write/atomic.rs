//! Files that appear whole or not at all.

use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use crate::{Cancelled, Job};

/// Why a file could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WriteError {
    /// The folder or disk refused.
    #[error("{file} could not be written: {source}. Check that the folder exists, may be written to and has room.")]
    Refused {
        /// The path as given.
        file: String,
        /// What the operating system said.
        source: io::Error,
    },
    /// Stopped on request; what was there before is still there.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Writes a file through `write` under another name in the same folder, then gives it its own name in one step.
///
/// A file that was there before stays as it was unless all of the new one reached the disk.
///
/// ```
/// let folder = tempfile::tempdir()?;
/// let path = folder.path().join("sheet.txt");
/// mesh::write::save_atomic(&path, |out| out.write_all(b"one page"))?;
/// assert_eq!(std::fs::read(&path)?, b"one page");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// [`WriteError::Refused`] with the path, when making, writing or renaming fails or `write` itself does.
pub fn save_atomic(path: &Path, write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), WriteError> {
    let refused = |source| WriteError::Refused { file: path.display().to_string(), source };
    let mut out = BufWriter::with_capacity(1 << 16, beside(path).map_err(refused)?);
    write(&mut out).map_err(refused)?;
    let temporary = out.into_inner().map_err(|e| refused(e.into_error()))?;
    temporary.as_file().sync_all().map_err(refused)?;
    StagedFile { temporary, path: path.to_owned() }.put_in_place()
}

/// A file that is on the disk under another name; it vanishes unless it is put in its place.
#[derive(Debug)]
pub struct StagedFile {
    temporary: NamedTempFile,
    path: PathBuf,
}

impl StagedFile {
    /// Writes `bytes` under another name in the folder of `path`, in pieces between which cancellation is checked.
    ///
    /// # Errors
    /// [`WriteError`] when making or writing fails, or `job` is cancelled.
    pub fn write(path: &Path, bytes: &[u8], job: &Job) -> Result<Self, WriteError> {
        let refused = |source| WriteError::Refused { file: path.display().to_string(), source };
        let mut temporary = beside(path).map_err(refused)?;
        for piece in bytes.chunks(PIECE) {
            job.check()?;
            temporary.write_all(piece).map_err(refused)?;
            temporary.as_file().sync_data().map_err(refused)?;
        }
        job.check()?;
        temporary.as_file().sync_all().map_err(refused)?;
        Ok(Self { temporary, path: path.to_owned() })
    }

    /// Gives the file its own name, in one step.
    ///
    /// # Errors
    /// [`WriteError::Refused`] when the system refuses.
    pub fn put_in_place(self) -> Result<(), WriteError> {
        let Self { temporary, path } = self;
        let refused = |source| WriteError::Refused { file: path.display().to_string(), source };
        temporary.persist(&path).map(drop).map_err(|e| refused(e.error))
    }
}

/// Bytes that are written, and brought to the disk, between two checks.
const PIECE: usize = 16 << 20;

/// A new file under a temporary name in the folder of `path`.
fn beside(path: &Path) -> io::Result<NamedTempFile> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    builder.prefix(".writing-").suffix(".tmp");
    #[cfg(unix)]
    {
        // Temporary files are private by default; this one becomes an ordinary file (less the user's umask).
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_write_leaves_the_old_file_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("shell.stl");
        save_atomic(&path, |out| out.write_all(b"old")).unwrap();
        let failed = save_atomic(&path, |out| {
            out.write_all(b"half of the n")?;
            Err(io::Error::other("disk full"))
        });
        assert!(failed.unwrap_err().to_string().contains("disk full"));
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_missing_folder_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("nowhere").join("shell.stl");
        let error = save_atomic(&path, |_| Ok(())).unwrap_err();
        assert!(error.to_string().contains("nowhere"));
    }

    #[test]
    fn a_staged_file_is_seen_once_it_is_put_in_place_and_leaves_nothing_where_it_is_not() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("limb.ply");
        let count = || std::fs::read_dir(folder.path()).unwrap().count();
        let job = Job::silent();
        let staged = StagedFile::write(&path, b"points", &job).unwrap();
        assert!(!path.exists());
        staged.put_in_place().unwrap();
        assert_eq!((std::fs::read(&path).unwrap(), count()), (b"points".to_vec(), 1));
        drop(StagedFile::write(&path, b"others", &job).unwrap());
        assert_eq!((std::fs::read(&path).unwrap(), count()), (b"points".to_vec(), 1));
        job.cancel();
        assert!(matches!(StagedFile::write(&path, b"others", &job), Err(WriteError::Cancelled(_))));
        assert_eq!((std::fs::read(&path).unwrap(), count()), (b"points".to_vec(), 1));
    }
}
