//! The zone step on the stage: the brush, outlines, creases, the lines on the skin.

mod brush;
mod crease;
mod lines;
mod outline;

pub use brush::{Brush, Stroke, paint, show};
pub use crease::crease;
pub use lines::draw;
pub use outline::{Dragged, outline};
