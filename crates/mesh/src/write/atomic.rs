//! Files that appear whole or not at all.

use std::io::{self, BufWriter, Write};
use std::path::Path;

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
    save(path, write).map_err(|source| WriteError::Refused { file: path.display().to_string(), source })
}

fn save(path: &Path, write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> io::Result<()> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    builder.prefix(".writing-").suffix(".tmp");
    #[cfg(unix)]
    {
        // Temporary files are private by default; this one becomes an ordinary file (less the user's umask).
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let temporary = builder.tempfile_in(folder)?;
    let mut out = BufWriter::with_capacity(1 << 16, temporary);
    write(&mut out)?;
    let temporary = out.into_inner().map_err(io::IntoInnerError::into_error)?;
    temporary.as_file().sync_all()?;
    temporary.persist(path).map_err(|e| e.error)?;
    Ok(())
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
}
