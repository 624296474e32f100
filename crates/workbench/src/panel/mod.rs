//! The side panel: one file a step, each a function from the document to edits.

mod cut_drawing;
pub mod files;
mod fit;
mod material;
pub mod print;
mod scan;
mod shell;
pub mod show;
mod zone;

pub use material::Weighing;

use bevy_egui::egui::Ui;
pub use scan::ScanView;

use crate::actions::Asked;
use crate::bench::Bench;
use crate::step::Step;
use crate::view::View;

/// All that a panel may look at and change.
pub struct Desk<'a> {
    /// The document.
    pub bench: &'a mut Bench,
    /// How it is seen.
    pub view: &'a mut View,
    /// What is asked to be done.
    pub asked: &'a mut Asked,
}

/// Shows the panel of the step at hand.
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

/// One line of guidance for the step at hand.
pub fn guidance(desk: &Desk<'_>) -> &'static str {
    if desk.bench.files.is_hovering() {
        return "Let go to open it.";
    }
    if desk.view.step == Step::Show && desk.view.show.clean {
        return "H brings the panels back, T turns the guard.";
    }
    if desk.bench.files.demo {
        return demo_guidance(desk.view.step);
    }
    match desk.view.step {
        Step::Scan => "Open a scan, look at what was found, and say where on the body it is.",
        Step::Zone => "Paint over the skin that is to be covered, or take over the pen line.",
        Step::Shell => "Choose wall, rim, vents and straps; the shell follows at once.",
        Step::Fit => "Look at the gap under the shell, all the way round and along.",
        Step::Material => "Compare the three kinds of filament on this guard and choose one.",
        Step::Print => "Save the print files, and put them into the slicer of your printer.",
        Step::Show => "Turn it for the athlete: colour, finish, number.",
    }
}

/// The same while the demo is open, for somebody who sees all this for the first time.
fn demo_guidance(step: Step) -> &'static str {
    match step {
        Step::Scan => "This is an invented shin. Drag with the right button to turn it; Page down goes on.",
        Step::Zone => "Half of the zone is painted. Press B and paint the rest inside the pen line, then Page down.",
        Step::Shell => "The shell stands on the zone. Drag a slider and see it follow; Ctrl Z takes it back.",
        Step::Fit => "See the gap between skin and shell, all the way round.",
        Step::Material => "The same guard in three filaments. Choose the one that suits the athlete.",
        Step::Print => "Ctrl E saves all that the printer needs into a folder of your choice.",
        Step::Show => "Let the athlete choose a colour. To begin with your own scan, press Ctrl O.",
    }
}
