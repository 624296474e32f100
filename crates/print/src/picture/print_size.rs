//! A picture for a photo printer: as many pixels as its paper holds, with the density in the file.

use super::camera::View;
use super::{Guard, RenderStyle, single};
use crate::Error;
use image::RgbImage;
use mesh::{Job, Mesh};

/// Paper of a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paper {
    /// Width and height, mm.
    pub size_mm: [f32; 2],
    /// Dots an inch.
    pub dpi: u32,
}

impl Paper {
    /// 10 × 15 cm, upright, 300 dots an inch.
    pub const PHOTO: Self = Self { size_mm: [100.0, 150.0], dpi: 300 };

    /// Pixels across and down, to the nearest.
    #[must_use]
    pub fn pixels(&self) -> [u32; 2] {
        self.size_mm.map(|mm| (f64::from(mm) / 25.4 * f64::from(self.dpi)).round() as u32)
    }
}

/// One view that fills the paper, as a PNG file whose pHYs chunk gives the density in dots a metre (PNG specification,
/// third edition, 11.3.4.3).
///
/// # Errors
/// Nothing to draw, a broken mesh, paper outside 160 to 8192 pixels each way, or the work was stopped.
pub fn picture_at_print_size<'a>(
    limb: &'a Mesh,
    guard: impl Into<Guard<'a>>,
    view: View,
    look: &RenderStyle,
    paper: &Paper,
    job: &Job,
) -> Result<Vec<u8>, Error> {
    job.step("drawing the picture", 0.0)?;
    let picture = single(limb, guard, view, look, paper.pixels(), &job.part(0.0, 0.9))?;
    job.step("writing the picture", 0.9)?;
    let per_metre = (f64::from(paper.dpi) / 0.0254).round() as u32;
    // Encoding is one call that cannot be cancelled.
    let bytes = job.aside(move || packed(&picture, per_metre))??;
    job.step("picture drawn", 1.0)?;
    Ok(bytes)
}

fn packed(picture: &RgbImage, per_metre: u32) -> Result<Vec<u8>, png::EncodingError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, picture.width(), picture.height());
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: per_metre, yppu: per_metre, unit: png::Unit::Meter }));
    let mut writer = encoder.write_header()?;
    writer.write_image_data(picture)?;
    writer.finish()?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::part::samples::torus;

    #[test]
    fn paper_of_10_by_15_cm_at_300_dots_an_inch_has_1181_by_1772_pixels() {
        assert_eq!(Paper::PHOTO.pixels(), [1181, 1772]);
        let small = Paper { size_mm: [20.0, 30.0], dpi: 300 };
        let look = RenderStyle::default();
        let bytes = picture_at_print_size(&Mesh::default(), &torus(20, 10), View::FRONT, &look, &small, &Job::silent())
            .unwrap();
        let reader = png::Decoder::new(std::io::Cursor::new(bytes)).read_info().unwrap();
        let dims = reader.info().pixel_dims.unwrap();
        // 300 / 0.0254 = 11 811.02.
        assert_eq!((reader.info().size(), dims.xppu, dims.yppu), ((236, 354), 11811, 11811));
    }
}
