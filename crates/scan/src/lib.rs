//! From a scanner's file to a [`Limb`]: unit, fragments, holes, noise, axes, and the pen line.
//!
//! Nothing is changed in silence: each step adds a line to the report.

mod limb;
pub mod pen;
mod placement;

pub use limb::{BodySite, Limb, Side};
pub use placement::Placement;
