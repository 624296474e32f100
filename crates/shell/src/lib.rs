//! Zone and design to a closed solid: the profile, patterns, fittings, the field, its meshing.

mod design;

pub use design::{Design, Fitting, FittingKind, Mark, RibLayout, Ribs, Rim, VentKind, Vents};
