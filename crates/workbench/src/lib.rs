//! The workbench: the whole job in one window.
//!
//! One document ([`session::Session`]) and what follows from it; the steps of the work in their order along the top, one
//! side panel for the step at hand, the limb on its stage, and one line of guidance below. Panels are functions from the
//! document to edits. Everything that takes longer than a frame runs in the session's background tasks.
//!
//! Nothing is worked out here that a test cannot reach without a window.

mod actions;
mod app;
mod bench;
mod files;
mod graphics;
mod layout;
mod look;
mod looking;
mod mark;
mod overlay;
mod pace;
mod panel;
mod pictures;
mod shaping;
mod stage;
mod step;
mod trial;
mod typing;
mod view;

pub use app::{Start, run};
pub use mark::Aim;
pub use stage::{Brush, SkinOnStage, ring};
pub use step::Step;
pub use trial::{Drawn, Trial};
pub use view::{Tool, View};
