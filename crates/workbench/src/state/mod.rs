//! What the window knows: the document, the current step, and what each step keeps between frames.
//!
//! Nothing here draws or knows who reads it.

mod bench;
pub mod files;
pub mod fit;
pub mod material;
pub mod print;
pub mod scan;
pub mod shell;
pub mod show;
mod stage_rect;
mod step;
mod typing;
mod view;
pub mod zone;

pub use bench::Bench;
pub use stage_rect::{SIGHT_MM, StageRect};
pub use step::Step;
pub use typing::Typing;
pub use view::{Floating, Tool, View};
