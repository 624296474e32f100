//! One line of guidance for the current step.

use scan::pen::PenFinding;

use crate::actions::Action;
use crate::desk::Desk;
use crate::state::Step;
use crate::state::files::Origin;

/// One line of guidance for the current step.
pub fn guidance(desk: &Desk<'_>) -> String {
    if desk.bench.files.hovering {
        return "Let go to open it.".to_owned();
    }
    if desk.view.step == Step::Show && desk.view.show.clean {
        let [back, turn] = [Action::CleanStage, Action::TurnSlowly].map(|action| action.key().label());
        return format!("{back} brings the panels back, {turn} turns the guard.");
    }
    if desk.view.step == Step::Zone && desk.view.zone.filling.is_filled() {
        return format!(
            "The zone is marked up to the pen line. {} goes on to the shell.",
            Action::NextStep.key().label()
        );
    }
    if desk.bench.files.origin == Origin::Demo {
        return demo_guidance(desk.view.step);
    }
    match desk.view.step {
        Step::Scan if desk.bench.session.design().is_some() => {
            "Look at what was found, and say where on the body it is."
        }
        Step::Scan => "Open a scan, look at what was found, and say where on the body it is.",
        Step::Zone if has_pen_line(desk) => "Paint over the skin that is to be covered, or take over the pen line.",
        Step::Zone => "Paint or outline the skin that is to be covered.",
        Step::Shell => "Choose wall, rim, vents and straps; drag the dots on the limb to move the trim line.",
        Step::Fit => "Look at the gap under the shell, all the way round and along.",
        Step::Material => "Click on the guard to strike it there; compare the filaments, and choose one.",
        Step::Print => "Save the print files, and open one of them in the program that came with your printer.",
        Step::Show => "Show it to the athlete: choose colour, finish and number.",
    }
    .to_owned()
}

/// Whether there is a pen line on the skin, closed or not.
fn has_pen_line(desk: &Desk<'_>) -> bool {
    let found = desk.bench.session.derived().pen.value();
    found.is_some_and(|found| !matches!(**found, PenFinding::None { .. }))
}

/// The same while the demo is open, for a first-time user.
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
        Step::Material => {
            "The same guard in three filaments. Click on it to strike it, and choose the filament that suits."
                .to_owned()
        }
        Step::Print => {
            format!("{} saves all that the printer needs into a folder of your choice.", key(Action::Export))
        }
        Step::Show => {
            format!("Let the athlete choose a colour. To begin with your own scan, press {}.", key(Action::Open))
        }
    }
}
