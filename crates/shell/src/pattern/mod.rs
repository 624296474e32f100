//! Patterns that repeat over the shell: ribs and vents, placed on the skin.
//!
//! No pattern is drawn in a plane and projected: lattices grow over the skin from site to site, Voronoi cells are
//! relaxed on it, and every shape lies in a chart of its own. All lengths are geodesic.

mod free_space;
mod packing;
mod polygon;
mod ribs;
mod tangent_frame;
mod vents;
mod voronoi;

pub use ribs::{RIB_FITTING_WALL_MM, RIB_RIM_WALL_MM, place_ribs, rib_half_foot_mm};
pub use vents::{MOST_OPEN_SHARE, open_share, place_vents, vent_area_mm2};
