//! What is drawn flat over the stage: handles of straps and numbers, the place of a problem, the cutting plane.

mod cut;
mod handles;
mod sight;

use bevy_egui::egui::Ui;

pub use sight::Sight;

use crate::panel::Desk;
use crate::step::Step;

/// Draws what belongs to the step at hand, and takes what is done to it.
pub fn show(ui: &mut Ui, sight: &Sight, desk: &mut Desk<'_>) {
    match desk.view.step {
        Step::Shell => handles::show(ui, sight, desk),
        Step::Fit => cut::show(ui, sight, desk),
        _ => desk.view.shaping.placing = None,
    }
}
