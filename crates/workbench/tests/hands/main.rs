//! The whole workbench without a window, led by mouse and keys: what stands where the hand has put it.

#[path = "sitting.rs"]
mod sitting;

mod marking;
mod placing;
mod seeing;
