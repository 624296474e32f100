//! Words that can be read on the page: contrast and ink.
//!
//! Contrast ratio and relative luminance: Web Content Accessibility Guidelines 2.2 (W3C Recommendation, 2023), where
//! 4.5 : 1 is the least for text (success criterion 1.4.3, level AA).

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
