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
    /// Lesser text.
    pub faint_ink: Color32,
    /// The one accent.
    pub accent: Color32,
    /// Text on the accent.
    pub on_accent: Color32,
    /// What stands in the way.
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
