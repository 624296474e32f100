//! Reading what scanners and other programs write: STL, OBJ, PLY, told apart by content.
//!
//! A file is either read as it stands, with a sentence for each thing that was odd, or refused with a sentence
//! that says what is wrong and where. No count in a file is believed before the bytes that it speaks of are
//! known to be there, so a damaged file costs no more memory than a small multiple of its own size.

mod colour;
mod echo;
mod error;
mod faces;
mod foreign;
mod number;
mod obj;
mod obj_picture;
mod picture;
mod picture_colour;
mod ply;
mod ply_header;
mod ply_rows;
mod polygon;
mod recognise;
mod scan_file;
mod stl_ascii;
mod stl_binary;
mod survey;
pub(crate) mod weld_exact;

pub use error::ReadError;
pub use scan_file::{Format, ScanFile, Texture};
pub use survey::{Survey, survey};

use crate::Job;
use rayon::prelude::*;
use recognise::Kind;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;

/// Largest material file or picture that is opened beside a scan, bytes.
const LARGEST_COMPANION: u64 = 1 << 29;

/// Bytes that one thread reads at a time.
const PART: usize = 1 << 22;

/// Reads a scan file and, for an OBJ or PLY with a colour picture, the files beside it in its own folder.
///
/// # Errors
/// [`ReadError`]: not there, another format, damaged, without triangles, or stopped through `job`.
pub fn read_file(path: &Path, job: &Job) -> Result<ScanFile, ReadError> {
    job.step("reading the file", 0.0)?;
    let bytes = whole_file(path, job)?;
    let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
    let folder = path.parent().unwrap_or(Path::new("")).to_owned();
    read_bytes(&bytes, &name, &|companion| companion_in(&folder, companion), &job.part(0.1, 1.0))
}

/// Reads a scan from its bytes. `name` is for messages only.
///
/// `companions` gives the bytes of a file beside the scan (an OBJ's material file and pictures) by its bare name;
/// it is never asked for a path.
///
/// # Errors
/// As [`read_file`].
pub fn read_bytes(
    bytes: &[u8],
    name: &str,
    companions: &dyn Fn(&str) -> Option<Vec<u8>>,
    job: &Job,
) -> Result<ScanFile, ReadError> {
    if bytes.is_empty() {
        return Err(ReadError::Empty { file: name.into() });
    }
    match recognise::recognise(bytes) {
        Kind::StlBinary => stl_binary::read(bytes, name, job),
        Kind::StlAscii => stl_ascii::read(bytes, name, job),
        Kind::Ply => ply::read(bytes, name, companions, job),
        Kind::Obj => obj::read(bytes, name, companions, job),
        Kind::Foreign(foreign) => {
            Err(ReadError::OtherFormat { file: name.into(), format: foreign.format, advice: foreign.advice })
        }
        Kind::Unknown => Err(ReadError::Unknown { file: name.into() }),
    }
}

/// All bytes of a file, several parts at a time where it is large.
///
/// # Errors
/// [`ReadError::Unreadable`], or stopped through `job`.
pub fn whole_file(path: &Path, job: &Job) -> Result<Vec<u8>, ReadError> {
    let unreadable = |source: io::Error| ReadError::Unreadable { file: path.display().to_string(), source };
    let about = std::fs::metadata(path).map_err(unreadable)?;
    let length = usize::try_from(about.len()).unwrap_or(usize::MAX);
    if !about.is_file() || length <= 2 * PART {
        return std::fs::read(path).map_err(unreadable);
    }
    let mut bytes = vec![0; length];
    bytes.par_chunks_mut(PART).enumerate().try_for_each(|(part, bytes)| {
        job.check()?;
        let mut file = File::open(path).map_err(unreadable)?;
        file.seek(SeekFrom::Start((part * PART) as u64)).map_err(unreadable)?;
        file.read_exact(bytes).map_err(unreadable)
    })?;
    Ok(bytes)
}

/// The bytes of a plain file called `name` in `folder`, as [`read_bytes`] asks for them; where there is none, of one
/// whose name differs in case only, since scans travel between systems that tell case apart and systems that do not.
#[must_use]
pub fn companion_in(folder: &Path, name: &str) -> Option<Vec<u8>> {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let exact = folder.join(name);
    let path = if exact.symlink_metadata().is_ok() {
        exact
    } else {
        let mut alike: Vec<_> = std::fs::read_dir(folder)
            .ok()?
            .filter_map(|entry| Some(entry.ok()?.path()))
            .filter(|p| p.file_name().is_some_and(|n| n.to_string_lossy().to_lowercase() == name.to_lowercase()))
            .collect();
        alike.sort();
        alike.into_iter().next()?
    };
    // A link could lead anywhere.
    let about = path.symlink_metadata().ok()?;
    (about.is_file() && about.len() <= LARGEST_COMPANION).then(|| std::fs::read(&path).ok()).flatten()
}
