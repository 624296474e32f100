//! The zone step on the stage: the brush, outlines, the lines on the skin.

mod brush;
mod lines;
mod outline;

pub use brush::{Brush, Stroke, paint, show};
pub use lines::draw;
pub use outline::{Dragged, outline};
