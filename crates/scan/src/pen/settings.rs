//! Settings of the search for a pen line.

use serde::{Deserialize, Serialize};

/// How ink and skin differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Ink {
    /// The ink is darker than the skin around it.
    Dark,
    /// The ink is lighter than the skin around it.
    Light,
    /// The ink is about as light as the skin, but of another hue, such as blue on dark skin.
    Coloured,
}

/// Settings of [`super::find`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PenSettings {
    /// Longest gap in the ink that is closed, mm (0 to 20). Each one closed is reported. In a dashed line a space up to
    /// half as long again as the usual one is no gap.
    pub max_gap_mm: f32,
    /// Longest gap that is closed where the line runs straight on across a hole of the scan, mm (0 to 40).
    pub max_hole_mm: f32,
    /// Smallest area that a closed line may enclose to count as a marked region, mm².
    pub min_area_mm2: f32,
    /// Look for this kind of ink only; otherwise for all.
    pub ink: Option<Ink>,
}

impl Default for PenSettings {
    fn default() -> Self {
        Self { max_gap_mm: 8.0, max_hole_mm: 20.0, min_area_mm2: 300.0, ink: None }
    }
}
