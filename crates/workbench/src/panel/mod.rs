//! The side panel: one file a step, each a function from the document to edits.

mod cut_drawing;
pub mod files;
pub(crate) mod fit;
pub(crate) mod material;
pub mod print;
pub(crate) mod scan;
pub(crate) mod shell;
pub mod show;
mod zone;

pub use material::Weighing;

use bevy_egui::egui::Ui;
pub use scan::ScanView;

use crate::actions::{Action, Asked};
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
pub fn guidance(desk: &Desk<'_>) -> String {
    if desk.bench.files.is_hovering() {
        return "Let go to open it.".to_owned();
    }
    if desk.view.step == Step::Show && desk.view.show.clean {
        let [back, turn] = [Action::CleanStage, Action::TurnSlowly].map(|action| action.key().label());
        return format!("{back} brings the panels back, {turn} turns the guard.");
    }
    if desk.bench.files.demo {
        return demo_guidance(desk.view.step);
    }
    match desk.view.step {
        Step::Scan => "Open a scan, look at what was found, and say where on the body it is.",
        Step::Zone => "Paint over the skin that is to be covered, or take over the pen line.",
        Step::Shell => "Choose wall, rim, vents and straps; drag the dots on the limb to move the trim line.",
        Step::Fit => "Look at the gap under the shell, all the way round and along.",
        Step::Material => "Compare the three kinds of filament on this guard and choose one.",
        Step::Print => "Save the print files, and put them into the slicer of your printer.",
        Step::Show => "Turn it for the athlete: colour, finish, number.",
    }
    .to_owned()
}

/// The same while the demo is open, for somebody who sees all this for the first time.
fn demo_guidance(step: Step) -> String {
    let key = |action: Action| action.key().label();
    let next = key(Action::NextStep);
    match step {
        Step::Scan => format!("This is an invented shin. Drag with the right button to turn it; {next} goes on."),
        Step::Zone => {
            let paint = key(Action::Paint);
            format!("Half of the zone is painted. Press {paint} and paint the rest inside the pen line, then {next}.")
        }
        Step::Shell => {
            format!("Drag a dot on the limb to move the trim line, or a slider; {} takes it back.", key(Action::Undo))
        }
        Step::Fit => "See the gap between skin and shell, all the way round.".to_owned(),
        Step::Material => "The same guard in three filaments. Choose the one that suits the athlete.".to_owned(),
        Step::Print => {
            format!("{} saves all that the printer needs into a folder of your choice.", key(Action::Export))
        }
        Step::Show => {
            format!("Let the athlete choose a colour. To begin with your own scan, press {}.", key(Action::Open))
        }
    }
}
