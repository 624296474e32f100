//! A picture at print size and a short turn of the guard, drawn in the background and saved.

use std::path::Path;
use std::sync::Arc;

use engine::artwork;
use print::picture::{self, Guard, Paper, Turntable, picture_at_print_size};
use session::Outcome;

use crate::state::files::Rendering;
use crate::state::{Bench, View};

/// Draws the guard as it is shown and saves it as `path`.
pub fn render(bench: &mut Bench, view: &View, what: Rendering, path: &Path) {
    let session = &bench.session;
    let derived = session.derived();
    let Some(design) = session.design() else { return };
    let (Some(limb), Some(shell)) = (derived.limb.value(), derived.best_shell(design)) else {
        return bench.say("There is no shell to draw yet.", true);
    };
    let (limb, shell) = (Arc::clone(limb), Arc::clone(shell));
    let (worn, marks) = (design.look.clone().unwrap_or_default(), design.shell.marks.clone());
    let (path, alone) = (path.to_owned(), view.show.alone);
    // From where the stage shows it, but not so steeply that the guard is out of sight.
    let (front_deg, raise_deg) = (Some(view.show.front_deg), view.show.raise_deg.clamp(-60.0, 60.0));
    bench.files.rendering.start(move |job| {
        let nothing = mesh::Mesh::default();
        let shown = artwork::shown(&shell, worn.colour, &worn);
        let cover = artwork::cover(&shown, &limb.skin, &worn, &marks, &job.part(0.0, 0.1))?;
        let guard = Guard { shell: &shown, cover: cover.as_ref(), front_deg };
        let limb = if alone { &nothing } else { limb.skin.mesh() };
        let look = artwork::render_style(&worn);
        let drawing = job.part(0.1, 0.95);
        let bytes = match what {
            Rendering::Photo => {
                let from = picture::View { raise_deg, ..picture::View::FRONT };
                picture_at_print_size(limb, guard, from, &look, &Paper::PHOTO, &drawing)?
            }
            Rendering::Turntable => {
                let turn = Turntable { on_limb: !alone, look, ..Turntable::default() };
                engine::turntable(limb, guard, &turn, &drawing)?
            }
        };
        job.check()?;
        mesh::write::save_atomic(&path, |out| out.write_all(&bytes))?;
        Ok(path)
    });
}

/// Says when a drawing is saved, or why not.
pub fn pick_up(bench: &mut Bench) {
    match bench.files.rendering.take() {
        Some(Outcome::Done(Ok(path))) => bench.say(format!("Saved as {}", path.display()), false),
        Some(Outcome::Done(Err(error))) => bench.say(session::capitalised(&error.to_string()), true),
        Some(Outcome::Broken) => bench.say("Drawing stopped because of an error in the program.", true),
        None => {}
    }
}
