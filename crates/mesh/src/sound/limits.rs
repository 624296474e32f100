//! What a sound solid may have at most.

use serde::{Deserialize, Serialize};

/// The limits by which a solid is called sound.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SoundLimits {
    /// Nothing may be thinner, mm: the width of one line of the usual 0.4 mm nozzle.
    pub least_mm: f64,
    /// Surface within 10 mm that is passed over when the wall there is measured, mm²: a dot as wide as that line takes
    /// 0.13 on each side. Less is no wall but a corner or the flank of a short sharp edge, which counts as such.
    pub speck_mm2: f64,
    /// Hardly anything may be thinner, mm: a wall of two such lines.
    pub thin_mm: f64,
    /// Share of the surface, 0 to 1, where the wall may be thinner than `thin_mm`.
    pub thin_share: f64,
    /// An edge is sharp where the surface turns by more, degrees; 0 is flat, 90 the edge of a box.
    pub sharp_deg: f64,
    /// Length of sharp edges that may be, mm.
    pub sharp_mm: f64,
    /// Length of sharp edges that the design asks for, mm; they may be as well.
    pub asked_sharp_mm: f64,
    /// An edge is a fold where the surface turns by more, degrees; at 180 it lies back on itself. None may be.
    pub fold_deg: f64,
    /// A vertex is a spike where the angles round it lack more of a full turn, degrees (the discrete Gaussian
    /// curvature). The tip of a cone of half angle a lacks 360 (1 − sin a): 258, or 4.5 rad, is a needle of less than
    /// 16.5. None may be.
    pub spike_deg: f64,
    /// Places named of each kind, at most.
    pub places: usize,
}

impl Default for SoundLimits {
    fn default() -> Self {
        Self {
            least_mm: 0.4,
            speck_mm2: 0.25,
            thin_mm: 0.8,
            thin_share: 0.001,
            sharp_deg: 75.0,
            sharp_mm: 30.0,
            asked_sharp_mm: 0.0,
            fold_deg: 150.0,
            spike_deg: 258.0,
            places: 20,
        }
    }
}
