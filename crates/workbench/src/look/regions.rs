//! How kinds of regions are drawn, on the limb and in the panel, so that they differ by more than their colour.

use zone::RegionKind;

/// How a kind of region is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pattern {
    /// One colour.
    Plain,
    /// Slanting stripes.
    Stripes,
    /// Horizontal bars of dark and light.
    Bars,
}

/// The pattern of a kind of region.
#[must_use]
pub fn pattern(kind: RegionKind) -> Pattern {
    match kind {
        RegionKind::Reinforcement { .. } => Pattern::Stripes,
        RegionKind::KeepClear { .. } => Pattern::Bars,
        _ => Pattern::Plain,
    }
}

impl Pattern {
    /// Its two colours, linear RGB.
    #[must_use]
    pub fn colours(self) -> [[f32; 3]; 2] {
        match self {
            Self::Plain => [[0.80, 0.42, 0.06]; 2],
            Self::Stripes => [[0.16, 0.08, 0.36], [0.42, 0.34, 0.62]],
            Self::Bars => [[0.03, 0.025, 0.02], [0.88, 0.85, 0.80]],
        }
    }

    /// Its colour at a place on the limb, linear RGB.
    #[must_use]
    pub fn at(self, p: &nalgebra::Point3<f32>) -> [f32; 3] {
        let along = match self {
            Self::Plain => 0.0,
            Self::Stripes => 0.7 * (p.x + p.y + p.z),
            Self::Bars => p.z,
        };
        self.colours()[usize::from(along.rem_euclid(6.0) >= 3.0)]
    }
}
