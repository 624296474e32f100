//! Colour pictures beside a scan.

use super::echo::shown_name;
use std::io::Cursor;

use crate::{Cancelled, Job};

/// A picture, sRGB, row by row from the top.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Picture {
    pub width: u32,
    pub height: u32,
    pub pixels: Vec<[u8; 3]>,
}

/// Longest side of a picture that is opened, pixels.
const LONGEST_SIDE: u32 = 16_384;
/// Most memory that decoding may take, bytes.
const MOST_MEMORY: u64 = 1 << 30;

/// The last part of a path in a file, whichever way its slashes lean; `None` where that names no file.
///
/// Files beside a scan are looked for in its own folder only, whatever folders the scan names.
pub(super) fn file_name(path: &str) -> Option<&str> {
    let name = path.rsplit(['/', '\\']).next()?.trim().trim_matches('"');
    let forbidden = name.is_empty() || name == "." || name == ".." || name.contains([':', '\0']);
    (!forbidden).then_some(name)
}

/// Opens the picture called `path` beside the scan, or says in a sentence why not.
///
/// # Errors
/// Only that the work was stopped.
pub(super) fn load(
    path: &str,
    companions: &dyn Fn(&str) -> Option<Vec<u8>>,
    job: &Job,
) -> Result<Result<Picture, String>, Cancelled> {
    let shown = shown_name(path);
    match file_name(path).and_then(companions) {
        // Unpacking cannot be stopped, and takes a second for the largest pictures.
        Some(bytes) => job.aside(move || unpack(bytes, &shown)),
        None => Ok(Err(format!("the colour picture “{shown}” is not beside the scan, so colours are missing"))),
    }
}

fn unpack(bytes: Vec<u8>, shown: &str) -> Result<Picture, String> {
    let failed = |why: image::ImageError| format!("the colour picture “{shown}” could not be read ({why})");
    let mut limits = image::Limits::default();
    limits.max_image_width = Some(LONGEST_SIDE);
    limits.max_image_height = Some(LONGEST_SIDE);
    limits.max_alloc = Some(MOST_MEMORY);
    let mut reader = image::ImageReader::new(Cursor::new(bytes)).with_guessed_format().map_err(|e| failed(e.into()))?;
    reader.limits(limits);
    let picture = reader.decode().map_err(failed)?.into_rgb8();
    let (width, height) = picture.dimensions();
    if width == 0 || height == 0 {
        return Err(format!("the colour picture “{shown}” has no pixels"));
    }
    Ok(Picture { width, height, pixels: picture.as_raw().as_chunks::<3>().0.to_vec() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_path_leads_out_of_the_folder() {
        assert_eq!(file_name("skin.png"), Some("skin.png"));
        assert_eq!(file_name("../../etc/passwd"), Some("passwd"));
        assert_eq!(file_name(r"C:\scans\my skin.jpg"), Some("my skin.jpg"));
        for path in ["..", "a/..", "", "a/", ".", r"x\..", "C:"] {
            assert_eq!(file_name(path), None, "{path}");
        }
    }
}
