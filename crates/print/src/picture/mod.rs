//! Pictures of the guard on the limb, drawn without graphics card and window, the same bytes on one thread or many.
//!
//! Triangles are drawn band by band into depth buffers with four samples a pixel ([`raster`]), lit by three lamps
//! ([`light`]), and darkened where neighbours stand in front ([`occlusion`]); a picture or pattern may lie on the shell
//! ([`cover`]). [`sheet`] puts several views on one page, [`turntable`] turns the guard round with one [`palette`] for
//! all frames, and [`print_size`] fits a picture to paper.

mod camera;
mod cover;
pub(crate) mod legible;
mod light;
mod occlusion;
mod palette;
mod print_size;
mod raster;
mod sheet;
#[cfg(test)]
mod skin_tones;
pub(crate) mod text;
mod turntable;

pub use camera::View;
pub use cover::{Corners, Cover};
pub use light::{EVEN_LIGHT, EvenLight};
pub use print_size::{Paper, picture_at_print_size};
pub use sheet::{Sheet, contact_sheet, single};
pub use turntable::{Turntable, gif, png_frames};

use crate::Error;
use ::palette::{LinSrgb, Srgb};
use image::RgbImage;
use mesh::{Job, Mesh};
use std::io::Cursor;

/// A shell with what lies on it.
#[derive(Debug, Clone, Copy)]
pub struct Guard<'a> {
    /// The shell; colours of its own, as of a number that is let in, go before those of the picture.
    pub shell: &'a Mesh,
    /// A picture or pattern on its outer face.
    pub cover: Option<&'a Cover>,
    /// The side that views start from, as a turn about the limb's axis from x, degrees; none for the side that most of
    /// the shell is on.
    pub front_deg: Option<f32>,
}

impl<'a> From<&'a Mesh> for Guard<'a> {
    fn from(shell: &'a Mesh) -> Self {
        Self { shell, cover: None, front_deg: None }
    }
}

/// How the plastic reflects light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Finish {
    /// No shine.
    Matt,
    /// As printed.
    #[default]
    Satin,
    /// Varnished.
    Gloss,
}

/// Colours of a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RenderStyle {
    /// Colour of the shell, sRGB.
    pub shell: [u8; 3],
    /// How the shell reflects light.
    pub finish: Finish,
    /// Colour of the limb where its scan had none, sRGB: a shop dummy's by default, since skin has many.
    pub limb: [u8; 3],
    /// Show the scan's own colours on the limb.
    pub scan_colours: bool,
    /// 1 for a solid limb; less to see the shell through it.
    pub limb_opacity: f32,
    /// Colour of the page, sRGB.
    pub page: [u8; 3],
}

impl Default for RenderStyle {
    fn default() -> Self {
        Self {
            shell: [26, 132, 152],
            finish: Finish::Satin,
            limb: [214, 192, 172],
            scan_colours: true,
            limb_opacity: 1.0,
            page: [239, 233, 224],
        }
    }
}

/// The picture as a PNG file.
///
/// # Errors
/// The picture is empty, or the work was stopped.
pub fn png(picture: RgbImage, job: &Job) -> Result<Vec<u8>, Error> {
    // Encoding is one call that cannot be cancelled.
    job.aside(move || packed(&picture))?
}

pub(crate) fn packed(picture: &RgbImage) -> Result<Vec<u8>, Error> {
    let mut bytes = Cursor::new(Vec::new());
    picture.write_to(&mut bytes, image::ImageFormat::Png)?;
    Ok(bytes.into_inner())
}

/// sRGB to linear light.
fn linear(colour: [u8; 3]) -> [f32; 3] {
    Srgb::from(colour).into_linear::<f32>().into()
}

/// Linear light to sRGB.
fn srgb(light: [f32; 3]) -> [u8; 3] {
    Srgb::<u8>::from_linear(LinSrgb::from(light)).into()
}
