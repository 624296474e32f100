//! The commands of the print step: the print files and their folder.

use super::files::choose;
use crate::actions::Action;
use crate::state::files::FileRequest;
use crate::state::print::AskedBed;
use crate::state::{Bench, View};

/// Does what a key or button of this step asks for.
pub fn perform(action: Action, bench: &mut Bench, view: &mut View) {
    match action {
        Action::AskBed => view.print.asked_bed = Some(AskedBed::of(bench.session.preferences.known_bed_mm())),
        Action::KeepBed => keep_bed(bench, view),
        Action::OpenFolder => open_folder(bench),
        Action::Export => export(bench),
        _ => {}
    }
}

/// Remembers the size of the printer as typed, or says why it is refused.
fn keep_bed(bench: &mut Bench, view: &mut View) {
    let Some(asked) = &mut view.print.asked_bed else { return };
    match asked.sides_mm() {
        Ok(sides) => {
            bench.session.preferences.bed_mm = Some(sides);
            bench.session.keep_preferences();
            view.print.asked_bed = None;
        }
        Err(refusal) => asked.refusal = Some(refusal),
    }
}

/// Asks for a folder and writes the print files into it.
fn export(bench: &mut Bench) {
    let session = &bench.session;
    let marked = session.design().is_some_and(|design| !design.zone.sources.is_empty());
    if marked {
        choose(bench, FileRequest::Export);
    } else {
        bench.say("There is nothing to print yet: open a scan and mark the zone.", true);
    }
}

/// Opens the folder of the files made last.
fn open_folder(bench: &mut Bench) {
    let Some(folder) = bench.files.exported.as_ref().map(|(folder, _)| folder.clone()) else {
        bench.say("No print files were saved yet.", true);
        return;
    };
    if let Err(error) = open::that_detached(&folder) {
        bench.say(format!("{} cannot be shown: {error}", folder.display()), true);
    }
}
