//! Patterns that repeat over the shell: ribs and vents, placed on the skin.
//!
//! Where things lie is composed on the drawing board ([`crate::board`]); their shapes are drawn in charts of their own,
//! and the walls between them are measured on the skin.

mod free_space;
mod lift;
mod polygon;
mod ribs;
mod site;
mod tangent_frame;
mod vents;
mod voronoi;

pub use site::Site;
pub use tangent_frame::TangentFrame;

pub use ribs::{RIB_FITTING_WALL_MM, RIB_RIM_WALL_MM, place_ribs, rib_half_foot_mm};
pub use vents::{MOST_OPEN_SHARE, open_share, place_vents, vent_area_mm2};
