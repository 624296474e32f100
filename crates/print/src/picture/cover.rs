//! A picture or pattern laid on the shell: its colours, and where in it each triangle lies.

use super::linear;
use image::RgbImage;

/// Places of a triangle's corners in a picture: 0 to 1 to the right and down.
pub type Corners = [[f32; 2]; 3];

/// What lies on a shell.
#[derive(Debug, Clone)]
pub struct Cover {
    /// Mip levels in linear colour, each half as wide and high as the one before.
    levels: Vec<Level>,
    repeats: bool,
    pixels_per_mm: f32,
    corners: Vec<Option<Corners>>,
}

#[derive(Debug, Clone)]
struct Level {
    width: usize,
    height: usize,
    pixels: Vec<[f32; 3]>,
}

impl Cover {
    /// A picture `width_mm` wide on the shell, tiled where it `repeats`. `corners` has an entry for each triangle of
    /// the shell, none where the triangle shows its own colour.
    #[must_use]
    pub fn new(picture: &RgbImage, repeats: bool, width_mm: f32, corners: Vec<Option<Corners>>) -> Self {
        let (width, height) = (picture.width() as usize, picture.height() as usize);
        let mut levels = vec![Level { width, height, pixels: picture.pixels().map(|p| linear(p.0)).collect() }];
        while let Some(half) = levels.last().and_then(Level::halved) {
            levels.push(half);
        }
        Self { levels, repeats, pixels_per_mm: width as f32 / width_mm.max(1e-3), corners }
    }

    /// Linear colour at the barycentric weights `w` of triangle `t`, drawn with so many samples a millimetre; none
    /// where the picture does not reach.
    pub(super) fn at(&self, t: usize, w: [f32; 3], samples_per_mm: f32) -> Option<[f32; 3]> {
        let corners = self.corners.get(t)?.as_ref()?;
        let [u, v] = [0, 1].map(|axis| (0..3).map(|k| w[k] * corners[k][axis]).sum::<f32>());
        let inside = |x: f32| (0.0..1.0).contains(&x);
        if !(self.repeats || inside(u) && inside(v)) {
            return None;
        }
        // About one pixel a sample, so that fine detail does not flicker.
        let coarse = (self.pixels_per_mm / samples_per_mm.max(1e-6)).log2().round();
        let level = self.levels.get(coarse.clamp(0.0, (self.levels.len() - 1) as f32) as usize)?;
        Some(level.between(u, v, self.repeats))
    }
}

impl Level {
    /// The next mip level: each pixel is the mean of four.
    fn halved(&self) -> Option<Self> {
        let (width, height) = (self.width / 2, self.height / 2);
        if width < 4 || height < 4 {
            return None;
        }
        let pixel = |x: usize, y: usize| {
            let four = [(0, 0), (1, 0), (0, 1), (1, 1)].map(|(i, j)| self.pixels[(2 * y + j) * self.width + 2 * x + i]);
            std::array::from_fn(|k| 0.25 * four.iter().map(|p| p[k]).sum::<f32>())
        };
        let pixels = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| pixel(x, y)).collect();
        Some(Self { width, height, pixels })
    }

    /// Bilinear interpolation.
    fn between(&self, u: f32, v: f32, repeats: bool) -> [f32; 3] {
        let place = |at: f32, count: usize| {
            let at = if repeats { at.rem_euclid(1.0) } else { at } * count as f32 - 0.5;
            let (low, share) = (at.floor(), at - at.floor());
            let index = |i: f32| {
                let last = count as f32 - 1.0;
                let i = if repeats { i.rem_euclid(count as f32) } else { i };
                i.clamp(0.0, last) as usize
            };
            ([index(low), index(low + 1.0)], share)
        };
        let (x, across) = place(u, self.width);
        let (y, down) = place(v, self.height);
        let of = |i: usize, j: usize| self.pixels[y[j] * self.width + x[i]];
        std::array::from_fn(|k| {
            let row = |j: usize| of(0, j)[k] + across * (of(1, j)[k] - of(0, j)[k]);
            row(0) + down * (row(1) - row(0))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    const WHOLE: Corners = [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]];

    /// Columns black and white in turn.
    fn columns() -> RgbImage {
        RgbImage::from_fn(64, 64, |x, _| Rgb([if x % 2 == 0 { 0 } else { 255 }; 3]))
    }

    #[test]
    fn a_pixel_has_its_colour_in_its_middle_and_what_is_far_away_the_mean() {
        let cover = Cover::new(&columns(), false, 64.0, vec![Some(WHOLE), None]);
        // A pixel a millimetre; the middle of pixel 5 is at 5.5 / 64.
        let weights = |u: f32, v: f32| [1.0 - u - v, u, v];
        let near = |x: f32| cover.at(0, weights(x / 64.0, 0.25), 4.0).unwrap()[0];
        assert!(near(5.5) > 0.999 && near(6.5) < 0.001 && (near(6.0) - 0.5).abs() < 1e-3);
        // The mean of black and white light is half, whatever the curve of sRGB.
        let far = cover.at(0, weights(0.4, 0.25), 0.25).unwrap();
        assert!((far[0] - 0.5).abs() < 1e-3, "{far:?}");
        assert!(cover.at(1, weights(0.4, 0.25), 1.0).is_none(), "a bare triangle");
        assert!(cover.at(0, [2.0, -1.0, 0.0], 1.0).is_none(), "left of the picture");
    }

    #[test]
    fn what_repeats_goes_on_beyond_its_edge() {
        let picture = RgbImage::from_fn(8, 8, |x, y| Rgb([30 * x as u8, 30 * y as u8, 0]));
        let cover = Cover::new(&picture, true, 8.0, vec![Some(WHOLE)]);
        let at = |u: f32, v: f32| cover.at(0, [1.0 - u - v, u, v], 2.0).unwrap();
        for (a, b) in [(at(0.3, 0.2), at(1.3, 0.2)), (at(0.3, 0.2), at(0.3, -0.8)), (at(0.999, 0.5), at(-0.001, 0.5))] {
            assert!(a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-4), "{a:?} {b:?}");
        }
    }
}
