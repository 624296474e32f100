//! Words that can be read whatever they lie on: contrast, ink and the plate under them.
//!
//! Contrast ratio and relative luminance: Web Content Accessibility Guidelines 2.2 (W3C Recommendation, 2023), where
//! 4.5 : 1 is the least for text (success criterion 1.4.3, level AA).

use image::{Rgb, RgbImage};

use super::linear;

/// Least contrast between words and what lies under them.
pub const LEAST_CONTRAST: f32 = 4.5;
/// Ink on pale and on dark pages; on pages in between only black or white will do.
const INKS: [[u8; 3]; 4] = [[58, 52, 46], [250, 247, 242], [0; 3], [255; 3]];

/// Relative luminance of an sRGB colour, 0 to 1.
pub fn luminance(colour: [u8; 3]) -> f32 {
    luminance_of(linear(colour))
}

/// Relative luminance of linear light.
pub fn luminance_of([r, g, b]: [f32; 3]) -> f32 {
    0.2126 * r + 0.7152 * g + 0.0722 * b
}

/// Contrast ratio of two sRGB colours, 1 to 21.
pub fn contrast(a: [u8; 3], b: [u8; 3]) -> f32 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// The first ink that can be read on a page of this colour. Black or white has at least √21 : 1 on any.
pub fn ink_on(page: [u8; 3]) -> [u8; 3] {
    INKS.into_iter().find(|ink| contrast(*ink, page) >= LEAST_CONTRAST).unwrap_or(INKS[2])
}

/// A rectangle of pixels with words or a bar on it: left, top, right, bottom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plate(pub [f32; 4]);

impl Plate {
    /// Paints it in the page's colour, its corners rounded.
    pub fn paint(self, picture: &mut RgbImage, page: [u8; 3]) {
        let [left, top, right, bottom] = self.0;
        let radius = 0.25 * (bottom - top).min(right - left);
        let (width, height) = picture.dimensions();
        for y in top.max(0.0) as u32..(bottom.ceil().max(0.0) as u32).min(height) {
            for x in left.max(0.0) as u32..(right.ceil().max(0.0) as u32).min(width) {
                let (px, py) = (x as f32 + 0.5, y as f32 + 0.5);
                let dx = (left + radius - px).max(px - right + radius).max(0.0);
                let dy = (top + radius - py).max(py - bottom + radius).max(0.0);
                let inside = (radius - dx.hypot(dy) + 0.5).clamp(0.0, 1.0);
                let pixel = picture.get_pixel_mut(x, y);
                *pixel = Rgb(std::array::from_fn(|k| {
                    let (from, to) = (f32::from(pixel.0[k]), f32::from(page[k]));
                    (from + (to - from) * inside).round() as u8
                }));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published pairs: black on white is 21 : 1, and #777777 on white fails with 4.48 : 1 where #767676 passes with
    /// 4.54 : 1 (W3C, Understanding Success Criterion 1.4.3; WebAIM, Contrast and Color Accessibility).
    #[test]
    fn contrast_is_that_of_the_published_pairs() {
        let on_white = |grey: u8| (100.0 * contrast([grey; 3], [255; 3])).round() / 100.0;
        assert_eq!([0, 0x77, 0x76].map(on_white), [21.0, 4.48, 4.54]);
    }

    #[test]
    fn every_page_has_an_ink_that_is_read() {
        for grey in 0..=255 {
            let page = [grey; 3];
            assert!(contrast(ink_on(page), page) >= LEAST_CONTRAST, "{page:?}");
        }
    }
}
