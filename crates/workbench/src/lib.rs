//! The workbench: the whole job in one window.
//!
//! One document ([`session::Session`]) and what follows from it; the steps of the work in order along the top, one side
//! panel for the current step, the limb on its stage, and one line of guidance below. Panels are functions from the
//! document to edits. Everything that takes longer than a frame runs in background tasks.
//!
//! Everything here can be tested without a window. The modules stand in layers, from the bottom: `state`, `look`,
//! `graphics`, `keyboard`; `actions`; `desk`; `commands`; `panel`, `overlay`, `dialog`, `stage`; `layout`, `pictures`;
//! `pace`; `report`; `app`; `trial`. Each uses only those below it; `tests/layers.rs` checks that.

mod actions;
mod app;
mod commands;
mod desk;
mod dialog;
mod graphics;
mod keyboard;
mod layout;
mod look;
mod overlay;
mod pace;
mod panel;
mod pictures;
mod report;
mod stage;
mod state;
mod trial;

pub use app::{Launch, run};
pub use stage::{Brush, SkinOnStage, ring};
pub use state::zone::Aim;
pub use state::{Step, Tool, View};
pub use trial::{DrawTo, TextInWindow, Trial};
