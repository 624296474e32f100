//! Ridges of the inner face, which it has over hollows narrower than it is high, such as between two fingers.
//!
//! What keeps the same distance from two sides of a hollow meets in a sharp edge over its bottom, which would press on the
//! skin and be as thin as a blade. It is rounded as if a ball had been rolled along it inside the wall.

use mesh::{Cancelled, Hit, Job, Surface};
use nalgebra::Point3;

use super::near::Near;

/// Least radius of a ridge, mm: as a finger feels it, it has no edge.
pub(super) const LEAST_RIDGE_MM: f32 = 1.5;
/// The other side of a hollow is looked for this many radii further up.
const AHEAD: f32 = 1.25;
/// A place above the skin whose distance is less than this share of its height stands over a hollow.
const NEARER: f32 = 0.95;
/// Vertices about this far apart are asked, mm.
const ASKED_MM: f64 = 1.2;
/// Cosine between the directions from the two sides from which they are taken for one, 10 degrees apart.
const ONE_SIDE: f32 = 0.985;

/// Where the inner face has ridges.
#[derive(Clone)]
pub(super) struct Ridges {
    /// Whether a ridge is near over each vertex of the skin; empty where there is none at all.
    over: Vec<bool>,
    radius_mm: f32,
}

impl Ridges {
    /// None are rounded.
    pub(super) const fn none() -> Self {
        Self { over: Vec::new(), radius_mm: 0.0 }
    }

    /// Looks for ridges of a face at these heights over the vertices, to round them with this radius.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub(super) fn find(
        skin: &Surface,
        near: &Near,
        inner_mm: impl Fn(usize) -> f32 + Sync,
        radius_mm: f32,
        job: &Job,
    ) -> Result<Self, Cancelled> {
        // On a fine mesh not every vertex is asked: what one finds holds for those around.
        let step = (ASKED_MM / near.mean_edge_mm.max(1e-3)).powi(2).max(1.0) as usize;
        let found = job.each(near.count.div_ceil(step), |i| {
            let v = near.vertices[i * step];
            // What has the ball's middle over it is no more than two radii below the hollow's middle.
            let height = inner_mm(v as usize) + (1.0 + AHEAD) * radius_mm;
            let above = skin.mesh().points[v as usize] + skin.vertex_normals()[v as usize] * height;
            let seed = skin.adjacency().triangles_around(v).first().copied();
            skin.nearest(&above, seed).is_some_and(|hit| hit.distance2.sqrt() < NEARER * height)
        })?;
        let mut over = Vec::new();
        if found.contains(&true) {
            over.resize(skin.mesh().points.len(), false);
            let mut these: Vec<usize> = (0..found.len()).filter(|i| found[*i]).map(|i| i * step).collect();
            for _ in 0..=if step > 1 { 3 } else { 1 } {
                these.iter().for_each(|i| over[near.vertices[*i] as usize] = true);
                these = these
                    .iter()
                    .flat_map(|i| near.around(*i))
                    .map(|w| *w as usize)
                    .filter(|i| *i < near.count)
                    .collect();
                these.sort_unstable();
                these.dedup();
            }
        }
        Ok(Self { over, radius_mm })
    }

    /// How far a point is above the inner face with its ridges rounded, mm.
    ///
    /// `hit` is the skin point nearest to it, `height_mm` its distance from that, and `above_mm` how far it is above the
    /// face that lies at `inner_mm` of each skin point over it.
    pub(super) fn above_inner(
        &self,
        skin: &Surface,
        p: &Point3<f32>,
        (hit, height_mm, above_mm): (&Hit, f32, f32),
        inner_mm: impl Fn(&Hit) -> f32,
    ) -> f32 {
        let r = self.radius_mm;
        let is_near = || skin.mesh().triangles[hit.triangle as usize].iter().any(|v| self.over[*v as usize]);
        if self.over.is_empty() || above_mm.abs() >= r || !is_near() {
            return above_mm;
        }
        let Some(up) = ((p - hit.point) * height_mm.signum()).try_normalize(1e-4) else { return above_mm };
        let ahead = p + up * (AHEAD * r);
        let Some(other) = skin.nearest(&ahead, Some(hit.triangle)) else { return above_mm };
        let Some(other_up) = (ahead - other.point).try_normalize(1e-4) else { return above_mm };
        let cosine = up.dot(&other_up);
        if cosine > ONE_SIDE {
            return above_mm;
        }
        // Two planes at that height over the two sides, and the ball of this radius that touches both from above: `x`
        // and `y` are how far below its middle the point is, square to each.
        let other_above = (p - other.point).dot(&other_up) - inner_mm(&other);
        let (x, y) = (r - above_mm, r - other_above);
        if x - y * cosine <= 0.0 || y - x * cosine <= 0.0 {
            return above_mm.min(other_above);
        }
        let from_middle2 = (x * x + y * y - 2.0 * x * y * cosine) / (1.0 - cosine * cosine);
        r - from_middle2.sqrt()
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use mesh::Mesh;
    use nalgebra::Vector3;

    use super::*;

    /// A valley along y whose sides rise by this slope, 40 mm to each side.
    fn valley(slope: f32) -> Surface {
        let (n, long) = (81_u32, 21_u32);
        let x = |i: u32| i as f32 - 40.0;
        let points = (0..long * n).map(|k| Point3::new(x(k % n), (k / n) as f32 - 10.0, slope * x(k % n).abs()));
        let squares = (0..long - 1).flat_map(|j| (0..n - 1).map(move |i| j * n + i));
        let triangles = squares.flat_map(|a| [[a, a + 1, a + n + 1], [a, a + n + 1, a + n]]).collect();
        Surface::new(Mesh::new(points.collect(), triangles))
    }

    /// How far a point is above a face 2 mm over the sides of such a valley.
    fn above(skin: &Surface, p: Point3<f32>) -> f32 {
        let near = Near::find(skin, &vec![10.0; skin.mesh().points.len()]);
        let ridges = Ridges::find(skin, &near, |_| 2.0, 1.5, &Job::silent()).unwrap();
        let hit = skin.nearest(&p, None).unwrap();
        let height = skin.signed_distance(&p, &hit);
        ridges.above_inner(skin, &p, (&hit, height, height - 2.0), |_| 2.0)
    }

    #[test]
    fn a_ball_rolls_along_a_ridge() {
        // Sides at 60 degrees to the horizontal: the ball's middle is 3.5 mm from both, 3.5 / cos 60 above the bottom.
        let skin = valley(60.0_f32.to_radians().tan());
        let middle = Point3::new(0.0, 0.3, 3.5 / 60.0_f32.to_radians().cos());
        for turn_deg in [-55.0_f32, -30.0, 0.0, 15.0, 50.0] {
            let (sine, cosine) = turn_deg.to_radians().sin_cos();
            let down = Vector3::new(sine, 0.0, -cosine);
            assert_relative_eq!(above(&skin, middle + down * 1.5), 0.0, epsilon = 0.02);
            assert_relative_eq!(above(&skin, middle + down * 1.2), 0.3, epsilon = 0.02);
            assert!(above(&skin, middle + down * 1.8) < -0.25);
        }
        // Where the ball leaves the sides they are as they were, and below the ridge it only gets farther.
        let side = middle + Vector3::new(75.0_f32.to_radians().sin(), 0.0, -75.0_f32.to_radians().cos()) * 1.5;
        assert_relative_eq!(above(&skin, side), 1.5 - 1.5 * 15.0_f32.to_radians().cos(), epsilon = 0.02);
        assert!(above(&skin, Point3::new(0.0, 0.3, 3.9)) < -0.1);
    }

    #[test]
    fn shallow_valleys_have_no_ridge() {
        let skin = valley(0.1);
        assert_relative_eq!(
            above(&skin, Point3::new(0.0, 0.3, 2.01)),
            2.01 * 0.1_f32.atan().cos() - 2.0,
            epsilon = 1e-3
        );
    }
}
