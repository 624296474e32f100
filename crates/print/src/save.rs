//! Files that are written whole or not at all.

use crate::Error;
use std::path::Path;

/// Fills the whole file in memory, then puts it at `path` in one step.
///
/// # Errors
/// The folder cannot be written to, or `fill` fails; a file that was at `path` then stays as it was.
pub fn save(path: &Path, fill: impl FnOnce(&mut Vec<u8>) -> Result<(), Error>) -> Result<(), Error> {
    let mut bytes = Vec::new();
    fill(&mut bytes)?;
    Ok(mesh::write::save_atomic(path, |out| out.write_all(&bytes))?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_write_leaves_the_old_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("shell.stl");
        save(&path, |out| {
            out.extend_from_slice(b"old");
            Ok(())
        })
        .unwrap();
        assert!(save(&path, |_| Err(Error::Empty)).is_err());
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
        let nowhere = folder.path().join("none").join("shell.stl");
        assert!(save(&nowhere, |_| Ok(())).unwrap_err().to_string().contains("shell.stl"));
    }
}
