//! What the user should look at after cleaning, typed, so that each user interface can phrase it.

use std::fmt;

use serde::{Serialize, Serializer};

use crate::SiteDoubt;

/// Something that cleaning did or left and that may be wrong. As text, and in JSON, one plain sentence.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum ScanWarning {
    /// The unit is a guess; see [`UnitGuess::why`](crate::UnitGuess::why).
    UnitUnsure {
        /// Why, as a sentence without an end.
        why: String,
    },
    /// A part with many triangles, out of all proportion far from the limb, was dropped.
    FarPart,
    /// A second large connected component was dropped.
    SecondComponent {
        /// Its area, cm².
        area_cm2: f64,
        /// Its middle, in the scan file's own coordinates and unit, in words.
        at: String,
    },
    /// A hole was too wide to be filled.
    WideHole {
        /// Length of its rim, mm.
        rim_mm: f64,
        /// Its middle, in the scan file's own coordinates and unit, in words.
        at: String,
        /// Rims up to this length are filled, mm.
        filled_to_mm: f64,
    },
    /// The limb's size speaks against the body site that was given.
    Site(SiteDoubt),
}

impl fmt::Display for ScanWarning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnitUnsure { why } => write!(f, "Unit: {why}."),
            Self::FarPart => f.write_str(
                "A large part far from the limb was dropped; if it is the part that you want, crop the scan to it.",
            ),
            Self::SecondComponent { area_cm2, at } => write!(
                f,
                "A second large piece of {area_cm2:.0} cm² around {at} in the scan was dropped; if it belongs to the \
                 limb, scan again without the gap, or crop to the one you want."
            ),
            Self::WideHole { rim_mm, at, filled_to_mm } => write!(
                f,
                "A hole of {rim_mm:.0} mm round its rim at {at} in the scan was left open, as filling stops at \
                 {filled_to_mm:.0} mm."
            ),
            Self::Site(doubt) => doubt.fmt(f),
        }
    }
}

impl Serialize for ScanWarning {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}
