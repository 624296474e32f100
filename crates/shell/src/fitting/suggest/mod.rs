//! Suggested places for straps, a number and a picture, composed on the drawing board.

mod mark;
mod straps;

pub use self::mark::{suggest_mark, suggest_picture};
pub use self::straps::{levels_by_length, suggest_straps};
/// Suggested things leave this much more room than they need, so that small changes of the design keep them, mm.
const SPARE_MM: f32 = 1.0;
