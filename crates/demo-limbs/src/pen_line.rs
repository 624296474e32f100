//! The line drawn on the skin: closed, hand-drawn, with small gaps.

use crate::catalogue::Ink;
use crate::form::{Form, V};
use crate::random::{Random, noise};

/// A drawn line.
pub(crate) struct PenLine {
    /// Points about 1 mm apart on the skin, closed.
    pub points: Vec<V>,
    normals: Vec<V>,
    lifted: Vec<bool>,
    colour: [f64; 3],
    seed: u64,
    middle: V,
    reach: f64,
}

impl PenLine {
    /// Draws through the given skin points with an unsteady hand.
    pub(crate) fn draw(form: &Form, through: &[V], ink: Ink, random: &mut Random) -> Self {
        let seed = random.below(1 << 30) as u64;
        let mut points: Vec<V> = Vec::new();
        let count = through.len();
        for k in 0..count {
            let [a, b, c, d] = [count - 1, 0, 1, 2].map(|o| through[(k + o) % count]);
            let steps = (c - b).norm().ceil().max(1.0) as usize;
            for step in 0..steps {
                let t = step as f64 / steps as f64;
                // Catmull-Rom.
                let p = b
                    + ((c - a) * t
                        + (a * 2.0 - b * 5.0 + c * 4.0 - d) * (t * t)
                        + (b * 3.0 - a - c * 3.0 + d) * (t * t * t))
                        * 0.5;
                let shake =
                    V::new(noise(&(p / 23.0), seed), noise(&(p / 23.0), seed + 1), noise(&(p / 23.0), seed + 2));
                points.push(form.project(&(p + shake * 1.3), 8));
            }
        }
        let normals = points.iter().map(|p| form.normal(p)).collect();
        let mut lifted = vec![false; points.len()];
        for _ in 0..2 {
            let (start, width) = (random.below(points.len()), 2 + random.below(3));
            for k in 0..width {
                let k = (start + k) % points.len();
                lifted[k] = true;
            }
        }
        let middle = points.iter().sum::<V>() / points.len() as f64;
        let reach = points.iter().map(|p| (p - middle).norm()).fold(0.0, f64::max);
        let colour = match ink {
            Ink::Dark | Ink::None => [34.0, 38.0, 72.0],
            Ink::Light => [232.0, 232.0, 222.0],
        };
        Self { points, normals, lifted, colour, seed, middle, reach }
    }

    /// Colour of the ink and how much of it covers the skin at `p`, 0 to 1.
    pub(crate) fn ink_at(&self, p: &V, normal: &V) -> ([f64; 3], f64) {
        if (p - self.middle).norm() > self.reach + 4.0 {
            return (self.colour, 0.0);
        }
        let mut best = (f64::INFINITY, 0);
        for (k, q) in self.points.iter().enumerate() {
            let d = (p - q).norm_squared();
            if d < best.0 {
                best = (d, k);
            }
        }
        let (squared, k) = best;
        if self.lifted[k] || self.normals[k].dot(normal) < 0.0 {
            return (self.colour, 0.0);
        }
        // About 3 mm wide, edges soft over 0.8 mm, of varying pressure.
        let half = 1.5 + 0.25 * noise(&(p / 9.0), self.seed + 3);
        let t = ((half + 0.4 - squared.sqrt()) / 0.8).clamp(0.0, 1.0);
        let pressure = 0.88 + 0.12 * noise(&(p / 5.0), self.seed + 4);
        (self.colour, t * t * (3.0 - 2.0 * t) * pressure)
    }
}
