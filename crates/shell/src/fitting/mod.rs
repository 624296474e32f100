//! What holds the guard on, and what is written on it.

mod anchor;
mod bend;
mod following;
mod glyphs;
mod line;
mod mark;
mod name;
mod outline;
mod picture;
mod placement;
mod stencil;
mod stitch;
mod suggest;
mod way_out;

pub use anchor::{ANCHOR_STRESS_MPA, USUAL_PULL_N, anchor_pull_n, anchor_wall_mm};
pub use following::fittings_in_place;
pub use mark::place_marks;
pub(crate) use mark::unwritable;
pub use outline::place_fittings;
pub use picture::place_pictures;
pub use placement::STRAP_WALL_MM;
pub use stitch::place_stitch_holes;
pub use suggest::{levels_by_length, suggest_mark, suggest_picture, suggest_straps};

pub use crate::limits::{LEAST_FLOOR_MM, MIN_LIGAMENT_MM};

#[cfg(test)]
mod tests;
