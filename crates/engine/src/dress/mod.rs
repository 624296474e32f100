//! The guard as the athlete sees it: colour, finish, a picture or pattern on its outer face. The window and the saved
//! pictures take all of it from here.

mod canvas;
mod wrap;

pub use canvas::{Canvas, paint};
pub use wrap::{Faces, Wrapped, outer_faces, wrap};

use locker::Look;
use mesh::{Job, Mesh, Surface};
use print::picture::{Cover, Finish};

use crate::EngineError;

/// What lies on the shell, for a drawn picture; nothing where no artwork is chosen or its picture cannot be read.
///
/// # Errors
/// The work was stopped.
pub fn cover(shell: &Mesh, skin: &Surface, look: &Look, job: &Job) -> Result<Option<Cover>, EngineError> {
    job.step("laying the picture on", 0.0)?;
    let Some(artwork) = &look.artwork else { return Ok(None) };
    let Some(canvas) = paint(artwork, look.colour) else { return Ok(None) };
    let wrapped = wrap(shell, &outer_faces(shell, skin), artwork, canvas.aspect());
    let mut corners = vec![None; shell.triangles.len()];
    for (triangle, places) in wrapped.painted {
        corners[triangle as usize] = Some(places);
    }
    job.step("picture laid on", 1.0)?;
    Ok(Some(Cover::new(&canvas.pixels, canvas.repeats, artwork.width_mm, corners)))
}

/// Colour and finish for a drawn picture, the rest as usual.
#[must_use]
pub fn drawn_look(look: &Look) -> print::picture::Look {
    let finish = match look.finish {
        locker::Finish::Matt => Finish::Matt,
        locker::Finish::Satin => Finish::Satin,
        locker::Finish::Gloss => Finish::Gloss,
    };
    print::picture::Look { shell: look.colour, finish, ..print::picture::Look::default() }
}
