//! What is drawn flat over the stage: the cut of an end, letters of regions, grips of the trim line, handles of straps and
//! numbers, the place of a problem, the cutting plane.

mod fit;
mod label;
mod scan;
mod shell;
mod sight;
mod zone;

use bevy_egui::egui::Ui;

pub use sight::Sight;

use crate::desk::Desk;
use crate::state::Step;
use label::label;

/// Draws what belongs to the step at hand, and takes what is done to it.
pub fn show(ui: &mut Ui, sight: &Sight, desk: &mut Desk<'_>) {
    if desk.view.step != Step::Shell {
        desk.view.shell.placing = None;
    }
    match desk.view.step {
        Step::Scan => scan::show(ui, sight, desk),
        Step::Zone => zone::show(ui, sight, desk),
        Step::Shell => shell::show(ui, sight, desk),
        Step::Fit => fit::show(ui, sight, desk),
        Step::Material | Step::Print | Step::Show => {}
    }
}
