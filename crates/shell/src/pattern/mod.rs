//! What repeats over the shell: ribs and vents, laid out on the skin itself.
//!
//! No pattern is drawn in a plane and projected: lattices are grown over the skin from site to site, free-form cells are
//! relaxed on it, and every shape lies in a chart of its own. All lengths are lengths on the skin.

mod cell;
mod near;
mod packing;
mod polygon;
mod ribs;
mod room;
mod tangent;
mod vents;

pub use ribs::{RIB_FITTING_WALL_MM, RIB_RIM_WALL_MM, place_ribs, rib_half_foot_mm};
pub use vents::{MOST_OPEN_SHARE, open_share, place_vents, vent_area_mm2};
