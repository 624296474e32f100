//! One palette for all frames of a turn.

use color_quant::NeuQuant;
use image::RgbImage;
use mesh::{Cancelled, Job};

/// Colours that are chosen. The last of the 256 entries of a GIF stands for an unchanged pixel.
pub const COLOURS: usize = 255;
/// Sampling factor of the quantiser, 1 (best) to 30 (quickest).
const SPEED: i32 = 6;
/// Most pixels that the quantiser is given.
const LOOKED_AT: usize = 600_000;
/// Levels of each channel in the table of nearest colours.
const LEVELS: usize = 64;

/// A palette, and a table to find the nearest of its colours.
pub struct Palette {
    bytes: Vec<u8>,
    /// The nearest colour of each cell of the cube of colours.
    nearest: Vec<u8>,
}

impl Palette {
    /// The palette of these pictures, by Dekker's neural net (Network: Computation in Neural Systems 5, 1994, 351–367).
    ///
    /// # Errors
    /// Only that the work was stopped.
    pub fn of(pictures: &[RgbImage], job: &Job) -> Result<Self, Cancelled> {
        let count: usize = pictures.iter().map(|p| p.width() as usize * p.height() as usize).sum();
        // Odd, so that no columns of the picture are left out.
        let every = count.div_ceil(LOOKED_AT) | 1;
        let seen: Vec<u8> = pictures
            .iter()
            .flat_map(|p| p.pixels())
            .step_by(every)
            .flat_map(|p| [p.0[0], p.0[1], p.0[2], 255])
            .collect();
        // Training is one call that cannot be cancelled.
        let net = job.aside(move || NeuQuant::new(SPEED, COLOURS, &seen))?;
        let mut bytes = net.color_map_rgb();
        bytes.resize(3 * (COLOURS + 1), 0);
        let middle = |level: usize| (level * 256 / LEVELS + 128 / LEVELS) as u8;
        let nearest = job.each(LEVELS * LEVELS * LEVELS, |cell| {
            let [r, g, b] = [cell / LEVELS / LEVELS, cell / LEVELS % LEVELS, cell % LEVELS].map(middle);
            net.index_of(&[r, g, b, 255]) as u8
        })?;
        Ok(Self { bytes, nearest })
    }

    /// Red, green and blue of 256 entries; the last is not a colour of the pictures.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// The picture in these colours.
    pub fn indices(&self, picture: &RgbImage) -> Vec<u8> {
        let level = |c: u8| usize::from(c) * LEVELS / 256;
        picture
            .pixels()
            .map(|p| self.nearest[(level(p.0[0]) * LEVELS + level(p.0[1])) * LEVELS + level(p.0[2])])
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn colours_come_back_nearly_as_they_were() {
        let ramp = RgbImage::from_fn(256, 64, |x, y| Rgb([x as u8, 4 * y as u8, 255 - x as u8]));
        let plain = RgbImage::from_pixel(256, 64, Rgb([240, 226, 196]));
        let palette = Palette::of(&[ramp.clone(), plain.clone()], &Job::silent()).unwrap();
        // 254 colours on a plane of 256 by 256 are cells 16 wide, so 4 off on average at best; the net stays within
        // twice that. A plain colour must come back.
        for (picture, most) in [(&ramp, 8.0), (&plain, 2.0)] {
            let off: f64 = picture
                .pixels()
                .zip(palette.indices(picture))
                .map(|(pixel, index)| {
                    let entry = &palette.bytes()[3 * usize::from(index)..][..3];
                    pixel.0.iter().zip(entry).map(|(a, b)| f64::from(a.abs_diff(*b))).sum::<f64>() / 3.0
                })
                .sum::<f64>()
                / f64::from(picture.width() * picture.height());
            assert!(off < most, "{off}");
        }
    }
}
