//! Zone and design to a closed solid: the profile, patterns, fittings, the field, its meshing.

mod build;
mod chart;
mod design;
mod design_check;
mod error;
mod field;
pub mod fitting;
mod layout;
pub mod limits;
pub mod pattern;
mod profile;
#[cfg(test)]
mod sample_skins;
mod shape;
pub mod surface;
mod width;

pub use build::{Quality, Shell, build, build_layout};
pub use chart::{Chart, skin_directions, skin_point};
pub use design::{Design, Fitting, FittingKind, Mark, RibLayout, Ribs, Rim, VentKind, Vents};
pub use design_check::SettingOutOfRange;
pub use error::ShellError;
pub use field::Field;
pub use layout::{Cut, Emboss, Layout, Source, arrange};
pub use profile::{Wall, smooth_step};
pub use shape::Shape;
