//! Files that are either all there or not touched.

use crate::Error;
use std::io::{BufWriter, Write};
use std::path::Path;

/// Writes into a temporary file beside `path`, then moves it there in one step.
///
/// # Errors
/// The folder cannot be written to, or `fill` fails; a file that was at `path` then stays as it was.
pub fn save(path: &Path, fill: impl FnOnce(&mut dyn Write) -> Result<(), Error>) -> Result<(), Error> {
    let unwritable = |source| Error::Unwritable { path: path.to_path_buf(), source };
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    // Temporary files are private by default; these are to be shared as the user's other files are.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut file = builder.tempfile_in(folder).map_err(unwritable)?;
    let mut out = BufWriter::new(file.as_file_mut());
    fill(&mut out)?;
    out.flush().map_err(unwritable)?;
    drop(out);
    file.persist(path).map_err(|e| unwritable(e.error))?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_write_leaves_the_old_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("shell.stl");
        save(&path, |out| Ok(out.write_all(b"old")?)).unwrap();
        assert!(save(&path, |_| Err(Error::Empty)).is_err());
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
        let nowhere = folder.path().join("none").join("shell.stl");
        assert!(save(&nowhere, |_| Ok(())).unwrap_err().to_string().contains("shell.stl"));
    }
}
