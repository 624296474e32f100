//! The guard as the athlete sees it: colour, finish, a picture or pattern on its outer face. The window and the saved
//! pictures take all of it from here.

mod artwork_image;
mod plaque;
mod texture_map;

pub use artwork_image::{ArtworkImage, paint};
pub use plaque::{Plaque, plaques};
pub use texture_map::{Faces, TextureMap, outer_faces, texture_map};

use std::borrow::Cow;

use locker::Appearance;
use mesh::{Job, Mesh, Surface};
use print::picture::{Cover, Finish};
use shell::{Mark, Shell};

use crate::EngineError;

/// The artwork on the shell, for a drawn picture; none where none is chosen or its picture cannot be read. Numbers and
/// words stand on plain plastic.
///
/// # Errors
/// The work was stopped.
pub fn cover(
    shell: &Mesh,
    skin: &Surface,
    look: &Appearance,
    marks: &[Mark],
    job: &Job,
) -> Result<Option<Cover>, EngineError> {
    job.step("laying the picture on", 0.0)?;
    let Some(artwork) = &look.artwork else { return Ok(None) };
    let (own, ground) = (artwork.clone(), look.colour);
    // Decoding a picture is one call that cannot be cancelled.
    let Some(image) = job.aside(move || paint(&own, ground))? else { return Ok(None) };
    let mapped = texture_map(shell, &outer_faces(shell, skin, job)?, artwork, image.aspect(), &plaques(skin, marks));
    let mut corners = vec![None; shell.triangles.len()];
    for (triangle, places) in mapped.painted {
        corners[triangle as usize] = Some(places);
    }
    job.step("picture laid on", 1.0)?;
    Ok(Some(Cover::new(&image.pixels, image.repeats, artwork.width_mm, corners)))
}

/// The shell as it is drawn: with its inlay as one mesh in two colours, that of the plastic being `plastic`.
#[must_use]
pub fn shown<'a>(shell: &'a Shell, plastic: [u8; 3], look: &Appearance) -> Cow<'a, Mesh> {
    let Some(inlay) = &shell.inlay else { return Cow::Borrowed(&shell.mesh) };
    let (own, more) = (&shell.mesh, &inlay.mesh);
    let first = own.points.len() as u32;
    let triangles = own.triangles.iter().copied().chain(more.triangles.iter().map(|t| t.map(|v| v + first)));
    let colours = [vec![plastic; own.points.len()], vec![look.inlay_colour; more.points.len()]].concat();
    Cow::Owned(Mesh {
        points: [&own.points[..], &more.points[..]].concat(),
        triangles: triangles.collect(),
        colours: Some(colours),
    })
}

/// Colour and finish for a drawn picture; the rest is the default.
#[must_use]
pub fn render_style(look: &Appearance) -> print::picture::RenderStyle {
    let finish = match look.finish {
        locker::Finish::Matt => Finish::Matt,
        locker::Finish::Satin => Finish::Satin,
        locker::Finish::Gloss => Finish::Gloss,
    };
    print::picture::RenderStyle { shell: look.colour, finish, ..print::picture::RenderStyle::default() }
}
