//! A picture at print size and a short turn of the guard, drawn in the background and saved.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use engine::EngineError;
use engine::artwork;
use print::picture::{Guard, Paper, Turntable, View, picture_at_print_size};
use session::{Outcome, Progress, Task};

use crate::bench::Bench;

/// What is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Drawn {
    /// 10 by 15 cm at 300 dots an inch.
    Photo,
    /// A short turn.
    Turn,
}

impl Drawn {
    /// Ending of its file.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Photo => "png",
            Self::Turn => "gif",
        }
    }
}

/// A drawing that is being made.
#[derive(Debug, Default)]
pub struct Drawing(Task<Result<PathBuf, EngineError>>);

impl Drawing {
    /// How far it is.
    pub fn progress(&self) -> Option<Progress> {
        self.0.progress()
    }

    /// Stops it.
    pub fn stop(&mut self) {
        self.0.cancel();
    }
}

impl Bench {
    /// Draws the guard as it is shown and saves it as `path`.
    pub fn draw(&mut self, what: Drawn, path: &Path) {
        let session = &self.session;
        let derived = session.derived();
        let Some(design) = session.design() else { return };
        let (Some(limb), Some(shell)) = (derived.limb.value(), derived.best_shell(design)) else {
            return self.say("There is no shell to draw yet.", true);
        };
        let (limb, shell) = (Arc::clone(limb), Arc::clone(shell));
        let worn = design.look.clone().unwrap_or_default();
        let (path, alone) = (path.to_owned(), self.files.alone);
        // From where it is looked at on the stage, though never so steeply that the guard is not seen.
        let (front_deg, raise_deg) = (Some(self.files.front_deg), self.files.raise_deg.clamp(-60.0, 60.0));
        self.files.drawing.0.start(move |job| {
            let nothing = mesh::Mesh::default();
            let cover = artwork::cover(&shell.mesh, &limb.skin, &worn, &job.part(0.0, 0.1))?;
            let guard = Guard { shell: &shell.mesh, cover: cover.as_ref(), front_deg };
            let limb = if alone { &nothing } else { limb.skin.mesh() };
            let look = artwork::render_style(&worn);
            let drawing = job.part(0.1, 0.95);
            let bytes = match what {
                Drawn::Photo => {
                    let view = View { raise_deg, ..View::FRONT };
                    picture_at_print_size(limb, guard, view, &look, &Paper::PHOTO, &drawing)?
                }
                Drawn::Turn => {
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
    pub(super) fn pick_up_drawing(&mut self) {
        match self.files.drawing.0.take() {
            Some(Outcome::Done(Ok(path))) => self.say(format!("Saved as {}", path.display()), false),
            Some(Outcome::Done(Err(error))) => self.say(error.to_string(), true),
            Some(Outcome::Broken) => self.say("Drawing broke off through a fault of the program.", true),
            None => {}
        }
    }
}
