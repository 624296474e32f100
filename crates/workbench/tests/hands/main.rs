//! The whole workbench without a window, led by mouse and keys: what stands where the hand has put it.

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
