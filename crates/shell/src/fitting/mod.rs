//! What holds the guard on, and what is written on it.

mod bend;
mod glyphs;
mod line;
mod mark;
mod outline;
mod room;
mod stitch;
mod suggest;

pub use mark::place_marks;
pub use outline::place_fittings;
pub use room::{LEAST_FLOOR_MM, MIN_LIGAMENT_MM, STRAP_WALL_MM};
pub use stitch::place_stitch_holes;
pub use suggest::{suggest_mark, suggest_straps};

#[cfg(test)]
mod tests;
