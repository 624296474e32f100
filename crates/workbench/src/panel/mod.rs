//! The side panel: one file or folder a step, each a function from the document to edits.

mod fit;
mod guidance;
mod material;
mod print;
mod scan;
mod shell;
mod show;
mod zone;

use bevy_egui::egui::Ui;

pub use guidance::guidance;
pub use scan::files::arrived;

use crate::desk::Desk;
use crate::state::Step;

/// Shows the panel of the current step.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    match desk.view.step {
        Step::Scan => scan::show(ui, desk),
        Step::Zone => zone::show(ui, desk),
        Step::Shell => shell::show(ui, desk),
        Step::Fit => fit::show(ui, desk),
        Step::Material => material::show(ui, desk),
        Step::Print => print::show(ui, desk),
        Step::Show => show::show(ui, desk),
    }
}
