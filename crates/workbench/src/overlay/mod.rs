//! What is drawn flat over the stage: the two ways to begin, the cut of an end, letters of regions, grips of the trim
//! line, handles of straps and numbers, the place of a problem, the cutting plane, where a blow strikes.

mod begin;
mod fit;
mod label;
mod material;
mod scan;
mod shell;
mod sight;
mod zone;

use bevy_egui::egui::Ui;

pub use sight::Sight;

use crate::desk::Desk;
use crate::state::Step;
use label::label;

/// Draws what belongs to the current step, and handles what is done to it.
pub fn show(ui: &mut Ui, sight: &Sight, desk: &mut Desk<'_>) {
    if desk.view.step != Step::Shell {
        desk.view.shell.placing = None;
    }
    let session = &desk.bench.session;
    if session.document().is_none() && !session.is_opening() {
        return begin::show(ui, desk);
    }
    match desk.view.step {
        Step::Scan => scan::show(ui, sight, desk),
        Step::Zone => zone::show(ui, sight, desk),
        Step::Shell => shell::show(ui, sight, desk),
        Step::Fit => fit::show(ui, sight, desk),
        Step::Material => material::show(ui, sight, desk),
        Step::Print | Step::Show => {}
    }
}
