//! What is drawn flat over the stage: the cut of an end, letters of regions, grips of the trim line, handles of straps and
//! numbers, the place of a problem, the cutting plane.

mod cut;
mod ends;
mod handles;
mod label;
mod letters;
mod sight;
mod trim;

use bevy_egui::egui::Ui;

use label::label;

pub use ends::Outlines;
pub use letters::Letters;
pub(crate) use sight::FARTHEST_MM;
pub use sight::Sight;
pub use trim::Trimming;

use crate::panel::Desk;
use crate::step::Step;

/// Draws what belongs to the step at hand, and takes what is done to it.
pub fn show(ui: &mut Ui, sight: &Sight, desk: &mut Desk<'_>) {
    if desk.view.step != Step::Shell {
        desk.view.shaping.placing = None;
    }
    match desk.view.step {
        Step::Scan => ends::show(ui, sight, desk),
        Step::Zone => letters::show(ui, sight, desk),
        Step::Shell => {
            // What comes later lies above and takes the press.
            trim::show(ui, sight, desk);
            handles::show(ui, sight, desk);
        }
        Step::Fit => cut::show(ui, sight, desk),
        _ => {}
    }
}
