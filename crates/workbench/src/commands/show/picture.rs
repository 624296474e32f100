//! A picture for the guard, read from a file and scaled down to a useful size.

use std::io::Cursor;
use std::path::Path;

use locker::{Art, Artwork, Laid};

use crate::state::Bench;

/// Longest side of a picture that is kept, pixels.
const LONGEST: u32 = 768;

/// Lays a picture on the guard.
pub fn take_picture(bench: &mut Bench, path: &Path, front_deg: f32) {
    let kept = match read_picture(path) {
        Ok(bytes) => locker::keep_picture(&bytes),
        Err(sentence) => return bench.say(sentence, true),
    };
    bench.session.edit("picture", |design| {
        let look = design.look.get_or_insert_default();
        let art = Art::Picture(kept);
        let fresh = Artwork { art: art.clone(), laid: Laid::Flat, front_deg, width_mm: 60.0, shift_mm: [0.0; 2] };
        let old = look.artwork.take().filter(|old| matches!(old.art, Art::Picture(_)));
        look.artwork = Some(old.map_or(fresh, |old| Artwork { art, ..old }));
    });
}

/// Reads a picture and scales it down to [`LONGEST`], as PNG; a sentence if it cannot be read.
fn read_picture(path: &Path) -> Result<Vec<u8>, String> {
    let cannot = |why: String| format!("{} cannot be read as a picture: {why}. Choose a PNG or JPEG.", path.display());
    let bytes = std::fs::read(path).map_err(|e| cannot(e.to_string()))?;
    let mut reader =
        image::ImageReader::new(Cursor::new(bytes)).with_guessed_format().map_err(|e| cannot(e.to_string()))?;
    let mut limits = image::Limits::default();
    (limits.max_image_width, limits.max_image_height) = (Some(20_000), Some(20_000));
    reader.limits(limits);
    let picture = reader.decode().map_err(|e| cannot(e.to_string()))?;
    let small =
        if picture.width().max(picture.height()) > LONGEST { picture.thumbnail(LONGEST, LONGEST) } else { picture };
    let mut out = Cursor::new(Vec::new());
    small.to_rgba8().write_to(&mut out, image::ImageFormat::Png).map_err(|e| cannot(e.to_string()))?;
    Ok(out.into_inner())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn large_pictures_are_made_small_and_what_is_none_is_refused_in_words() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("large.jpg");
        image::RgbImage::from_pixel(1600, 800, image::Rgb([10, 200, 30])).save(&path).unwrap();
        let small = image::load_from_memory(&read_picture(&path).unwrap()).unwrap().to_rgb8();
        assert_eq!(small.dimensions(), (768, 384));
        assert!(small.get_pixel(300, 200).0[1] > 180);
        std::fs::write(&path, b"no picture at all").unwrap();
        assert!(read_picture(&path).unwrap_err().contains("Choose a PNG or JPEG"));
    }
}
