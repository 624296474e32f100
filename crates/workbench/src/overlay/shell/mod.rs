//! The shell step over the stage: grips of the trim line, handles of straps and numbers, the place of a problem.

mod handles;
mod trim;

use bevy_egui::egui::Ui;

use super::Sight;
use crate::desk::Desk;

/// Draws them, handles last, so that they lie above the grips and take the press.
pub fn show(ui: &mut Ui, sight: &Sight, desk: &mut Desk<'_>) {
    trim::show(ui, sight, desk);
    handles::show(ui, sight, desk);
}
