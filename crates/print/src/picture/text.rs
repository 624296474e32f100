//! Words on a picture.

use ab_glyph::{Font, FontRef, PxScale, ScaleFont, point};
use image::RgbImage;

/// The typeface for running text, Open Sans Regular.
pub const REGULAR: &[u8] = include_bytes!("../../../../assets/fonts/OpenSans-Regular.ttf");
/// The typeface for headings, Open Sans Bold.
pub const BOLD: &[u8] = include_bytes!("../../../../assets/fonts/OpenSans-Bold.ttf");

/// Writes `words` with their left end at `x` and their base line at `y`; returns how wide they are.
pub fn write(picture: &mut RgbImage, font: &[u8], size_px: f32, at: [f32; 2], colour: [u8; 3], words: &str) -> f32 {
    let Ok(font) = FontRef::try_from_slice(font) else { return 0.0 };
    // ab_glyph's size is the height of the font; a type size is the em.
    let em = font.height_unscaled() / font.units_per_em().unwrap_or(2048.0);
    let font = font.as_scaled(PxScale::from(size_px * em));
    let mut x = at[0];
    let mut last = None;
    for letter in words.chars() {
        let id = font.glyph_id(letter);
        x += last.map_or(0.0, |last| font.kern(last, id));
        let glyph = id.with_scale_and_position(font.scale(), point(x, at[1]));
        if let Some(outline) = font.outline_glyph(glyph) {
            let corner = outline.px_bounds().min;
            outline.draw(|dx, dy, cover| {
                let (px, py) = (corner.x + dx as f32, corner.y + dy as f32);
                if px < 0.0 || py < 0.0 || px >= picture.width() as f32 || py >= picture.height() as f32 {
                    return;
                }
                let pixel = picture.get_pixel_mut(px as u32, py as u32);
                for (p, c) in pixel.0.iter_mut().zip(colour) {
                    *p = (f32::from(*p) + (f32::from(c) - f32::from(*p)) * cover.min(1.0)).round() as u8;
                }
            });
        }
        x += font.h_advance(id);
        last = Some(id);
    }
    x - at[0]
}

/// How wide `words` would be.
pub fn width(font: &[u8], size_px: f32, words: &str) -> f32 {
    let Ok(font) = FontRef::try_from_slice(font) else { return 0.0 };
    let em = font.height_unscaled() / font.units_per_em().unwrap_or(2048.0);
    let font = font.as_scaled(PxScale::from(size_px * em));
    let ids: Vec<_> = words.chars().map(|letter| font.glyph_id(letter)).collect();
    let kerned: f32 = ids.windows(2).map(|pair| font.kern(pair[0], pair[1])).sum();
    kerned + ids.iter().map(|&id| font.h_advance(id)).sum::<f32>()
}
