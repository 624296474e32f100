//! The colour of a picture at a place of the mesh it lies on.

use super::scan_file::Texture;

impl Texture {
    /// The picture's colour on triangle `triangle` of its mesh, at the place with these `weights` of the corners,
    /// interpolated between the four nearest pixels; `None` where the triangle has no coordinates or the picture too
    /// few pixels.
    #[must_use]
    pub fn colour_at(&self, triangle: usize, weights: [f32; 3]) -> Option<[u8; 3]> {
        if self.pixels.len() < self.width as usize * self.height as usize {
            return None;
        }
        let corners = self.uv.get(triangle)?;
        let uv = [0, 1].map(|i| (0..3).map(|k| weights[k] * corners[k][i]).sum());
        self.at(uv).map(|c| c.map(|x| x.round() as u8))
    }

    /// Colour at picture coordinates, interpolated between pixels; outside 0..1 the picture repeats.
    fn at(&self, uv: [f32; 2]) -> Option<[f32; 3]> {
        if !uv.iter().all(|v| v.is_finite()) || self.width == 0 || self.height == 0 {
            return None;
        }
        let [u, v] = uv.map(|v| if (0.0..=1.0).contains(&v) { v } else { v.rem_euclid(1.0) });
        let along = |place: f32, size: u32| {
            let place = (place * size as f32 - 0.5).clamp(0.0, (size - 1) as f32);
            let low = place.floor();
            (low as usize, (low as usize + 1).min(size as usize - 1), place - low)
        };
        let (left, right, x) = along(u, self.width);
        let (top, bottom, y) = along(1.0 - v, self.height);
        let pixel = |x: usize, y: usize| self.pixels[y * self.width as usize + x].map(f32::from);
        let between = |a: [f32; 3], b: [f32; 3], t: f32| [0, 1, 2].map(|k| a[k] + (b[k] - a[k]) * t);
        let upper = between(pixel(left, top), pixel(right, top), x);
        let lower = between(pixel(left, bottom), pixel(right, bottom), x);
        Some(between(upper, lower, y))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Red grows to the right, green upwards, over 64 × 64 pixels.
    fn ramp(uv: Vec<[[f32; 2]; 3]>) -> Texture {
        let pixels = (0..64 * 64).map(|i| [(i % 64) as u8 * 4, 252 - (i / 64) as u8 * 4, 9]).collect();
        Texture { width: 64, height: 64, pixels, uv }
    }

    #[test]
    fn a_ramp_is_read_where_it_lies() {
        let corners = [[0.1, 0.2], [0.9, 0.3], [0.4, 0.95]];
        let texture = ramp(vec![corners]);
        for (i, j) in (0..=10).flat_map(|i| (0..=10 - i).map(move |j| (i, j))) {
            let (a, b) = (i as f32 / 10.0, j as f32 / 10.0);
            let weights = [a, b, 1.0 - a - b];
            let place = |k: usize| (0..3).map(|c| weights[c] * corners[c][k]).sum::<f32>();
            // A pixel is a 64th wide and a step of 4; its colour sits in its middle.
            let expected = |x: f32| ((x * 64.0 - 0.5) * 4.0).clamp(0.0, 252.0);
            let [red, green, blue] = texture.colour_at(0, weights).unwrap();
            assert!((f32::from(red) - expected(place(0))).abs() <= 0.51, "{weights:?}: {red}");
            assert!((f32::from(green) - expected(place(1))).abs() <= 0.51, "{weights:?}: {green}");
            assert_eq!(blue, 9);
        }
    }

    #[test]
    fn what_has_no_picture_has_no_colour() {
        let mut texture = ramp(vec![[[0.5; 2]; 3], [[f32::NAN; 2]; 3]]);
        assert!(texture.colour_at(0, [1.0, 0.0, 0.0]).is_some());
        assert_eq!(texture.colour_at(1, [1.0, 0.0, 0.0]), None);
        assert_eq!(texture.colour_at(2, [1.0, 0.0, 0.0]), None);
        texture.pixels.pop();
        assert_eq!(texture.colour_at(0, [1.0, 0.0, 0.0]), None);
    }
}
