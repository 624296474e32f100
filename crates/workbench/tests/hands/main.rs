//! The whole workbench without a window, driven by mouse and keys.

mod beginning;
mod marking;
mod moving;
mod panels;
mod placing;
mod reaching;
mod saying;
mod seeing;
mod sitting;
mod still;
mod stopping;
mod striking;
