//! What the session has to tell, picked up once a frame.

use bevy::prelude::*;
use session::{Note, ProblemKind, capitalised};

use super::files;
use crate::state::files::{Origin, Question};
use crate::state::{Bench, Step, View};

/// Picks up finished work and passes its notes on to the user.
pub fn pick_up(
    mut bench: ResMut<Bench>,
    mut view: ResMut<View>,
    mut window: Single<&mut Window, With<bevy::window::PrimaryWindow>>,
) {
    // The bench is written every frame; what really changed is in `changed`.
    let bench = bench.bypass_change_detection();
    bench.changed = bench.session.poll();
    for note in bench.session.take_notes() {
        match note {
            Note::Opened(title) => {
                bench.files.origin = bench.files.next_origin;
                bench.say(format!("{title} is open."), false);
                // Site and side are asked there. A design has them, and work on it goes on where it was left.
                let is_scan = bench.session.document().is_some_and(|document| document.path().is_none());
                if is_scan && bench.files.origin == Origin::File {
                    view.bypass_change_detection().step = Step::Scan;
                }
            }
            Note::Problem(problem) => match *problem.kind {
                ProblemKind::FolderTaken { folder, title } => {
                    files::ask(bench, Question::FolderTaken { folder, title });
                }
                _ => bench.say(capitalised(&problem.sentence), true),
            },
            Note::ScanArrived(path) => bench.files.arrived = Some(path),
            Note::Saved(path) => {
                bench.say(format!("Saved as {}", path.display()), false);
                files::go_on_after_save(bench, view.bypass_change_detection());
            }
            Note::NotSaved(problem) => {
                bench.say(capitalised(&problem.sentence), true);
                bench.files.after_save = None;
            }
            Note::Exported { folder, report } => {
                bench.say(format!("The print files are in {}", folder.display()), false);
                // Where the system shows no folders, the sentence says where they are.
                if bench.files.shows_folders {
                    drop(open::that_detached(&folder));
                }
                bench.files.exported = Some((folder, report));
            }
        }
    }
    let title = bench.title();
    if window.title != title {
        window.title = title;
    }
}
