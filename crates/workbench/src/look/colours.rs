//! The colours of the workbench: warm paper, dark ink, one accent.

use bevy_egui::egui::Color32;

/// A set of colours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Palette {
    /// Behind the limb.
    pub stage: Color32,
    /// Panels.
    pub paper: Color32,
    /// Fields and raised parts.
    pub raised: Color32,
    /// Lines between things.
    pub line: Color32,
    /// Text.
    pub ink: Color32,
    /// Less important text.
    pub faint_ink: Color32,
    /// The one accent.
    pub accent: Color32,
    /// Text on the accent.
    pub on_accent: Color32,
    /// Problems.
    pub bad: Color32,
}

/// Calm colours.
pub const CALM: Palette = Palette {
    stage: Color32::from_rgb(0xe7, 0xe0, 0xd3),
    paper: Color32::from_rgb(0xf7, 0xf3, 0xea),
    raised: Color32::from_rgb(0xff, 0xfd, 0xf8),
    line: Color32::from_rgb(0xd6, 0xcc, 0xb9),
    ink: Color32::from_rgb(0x2b, 0x27, 0x21),
    faint_ink: Color32::from_rgb(0x6a, 0x62, 0x55),
    accent: Color32::from_rgb(0x1d, 0x6b, 0x66),
    on_accent: Color32::from_rgb(0xff, 0xff, 0xff),
    bad: Color32::from_rgb(0x9c, 0x2f, 0x1e),
};

/// Strong contrast.
pub const STRONG: Palette = Palette {
    stage: Color32::from_rgb(0xff, 0xff, 0xff),
    paper: Color32::from_rgb(0xff, 0xff, 0xff),
    raised: Color32::from_rgb(0xff, 0xff, 0xff),
    line: Color32::from_rgb(0x00, 0x00, 0x00),
    ink: Color32::from_rgb(0x00, 0x00, 0x00),
    faint_ink: Color32::from_rgb(0x22, 0x22, 0x22),
    accent: Color32::from_rgb(0x00, 0x4d, 0x47),
    on_accent: Color32::from_rgb(0xff, 0xff, 0xff),
    bad: Color32::from_rgb(0x8b, 0x00, 0x00),
};

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast ratio: Web Content Accessibility Guidelines 2.2 (W3C Recommendation, 2023).
    fn contrast(a: Color32, b: Color32) -> f32 {
        let luminance = |colour: Color32| {
            let [r, g, b] = [colour.r(), colour.g(), colour.b()].map(|c| {
                let c = f32::from(c) / 255.0;
                if c <= 0.040_45 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
            });
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// Labels over the limb have a ground of the raised colour, so that they are legible on every skin tone.
    #[test]
    fn every_text_is_read_on_what_lies_under_it() {
        for of in [CALM, STRONG] {
            let on = [
                (of.ink, of.raised),
                (of.ink, of.paper),
                (of.faint_ink, of.paper),
                (of.accent, of.raised),
                (of.accent, of.paper),
                (of.on_accent, of.accent),
                (of.bad, of.raised),
                (of.bad, of.paper),
            ];
            for (ink, under) in on {
                assert!(contrast(ink, under) >= 4.5, "{ink:?} on {under:?}: {}", contrast(ink, under));
            }
        }
        // Published pairs: 21 : 1, and #767676 on white passes with 4.54 : 1 (WebAIM, Contrast and Color
        // Accessibility).
        let grey = Color32::from_gray(0x76);
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-3);
        assert!((contrast(grey, Color32::WHITE) - 4.54).abs() < 0.005);
    }
}
