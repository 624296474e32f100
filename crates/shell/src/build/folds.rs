//! Folds: where the shell meets itself across a narrow hollow of the limb, as between two fingers.
//!
//! Across the middle of a hollow, the medial axis of the skin, nearest points jump from one side to the other, and with
//! them the distance to the trim line and the lift of the rim. Two sheets of the shell meet there at different heights,
//! and where they just miss each other they leave a narrow tunnel. It shows in the genus of the solid, and is filled by
//! a bead along the fold.

use mesh::{Cancelled, Job, Mesh, Surface};
use nalgebra::{Point3, center};
use rayon::prelude::*;

use crate::Field;
use crate::pattern::SpatialHash;

/// Radii of the bead, mm: the next is tried where tunnels are left.
pub(super) const RADII_MM: [f32; 3] = [0.8, 1.4, 2.2];
/// Nearest points of two neighbouring vertices jump where they are this much farther apart than the vertices.
const JUMP: f32 = 4.0;
/// A jump is at least this long, mm.
const LEAST_JUMP_MM: f32 = 1.5;
/// Vertices between two looks at cancel.
const VERTICES_A_LOOK: usize = 4096;

/// Points along the folds of a shell, with the radius of the bead round them.
pub(super) struct Folds {
    points: Option<SpatialHash>,
    radius_mm: f32,
}

impl Folds {
    /// No folds: the field as it is.
    pub(super) fn none() -> Self {
        Self { points: None, radius_mm: 0.0 }
    }

    /// The edges of the surface across which nearest points jump.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub(super) fn find(skin: &Surface, whole: &Mesh, radius_mm: f32, job: &Job) -> Result<Self, Cancelled> {
        let nearest = |points: &[Point3<f32>]| -> Result<Vec<Point3<f32>>, Cancelled> {
            job.check()?;
            let mut seed = None;
            let nearest = points.iter().map(|p| {
                let hit = skin.nearest(p, seed);
                seed = hit.map(|h| h.triangle);
                hit.map_or(*p, |h| h.point)
            });
            Ok(nearest.collect())
        };
        let feet: Vec<Vec<Point3<f32>>> =
            whole.points.par_chunks(VERTICES_A_LOOK).map(nearest).collect::<Result<_, _>>()?;
        let feet = feet.concat();
        let mut found = Vec::new();
        for corners in &whole.triangles {
            for k in 0..3 {
                let [a, b] = [corners[k], corners[(k + 1) % 3]].map(|v| v as usize);
                let (p, q) = (whole.points[a], whole.points[b]);
                let jump = (feet[a] - feet[b]).norm();
                // Each edge once, from one of its two triangles.
                if a < b && jump > LEAST_JUMP_MM && jump > JUMP * (p - q).norm() {
                    found.push(center(&p, &q));
                }
            }
        }
        Ok(Self { points: Some(SpatialHash::of(found, radius_mm)), radius_mm })
    }

    /// The field with a bead along the folds, above the inner face and beside the openings.
    pub(super) fn value(&self, field: &Field<'_>, p: &Point3<f32>, seed: Option<u32>) -> (f32, u32) {
        let sample = field.sample(p, seed);
        let away = self.points.as_ref().and_then(|points| points.distance(p, 2.0 * self.radius_mm));
        let (Some(away), Some(foot)) = (away, sample.foot) else { return (sample.value, sample.triangle) };
        let bead = (away - self.radius_mm).max(sample.below_inner_mm).max(-field.opening_mm(&foot));
        (sample.value.min(bead), sample.triangle)
    }
}

/// Genus of a closed surface of one component: the number of its tunnels.
pub(super) fn genus(mesh: &Mesh) -> usize {
    // Euler: V − E + F = 2 − 2g, with E = 3F/2.
    let euler = mesh.points.len() as i64 - mesh.triangles.len() as i64 / 2;
    usize::try_from((2 - euler) / 2).unwrap_or(0)
}

/// What is said of tunnels that were found and of those left.
pub(super) fn notice(found: usize, left: usize) -> Option<String> {
    let count = |n: usize| if n == 1 { "1 narrow tunnel".to_owned() } else { format!("{n} narrow tunnels") };
    match (found, left) {
        (0, 0) => None,
        (found, 0) => {
            let were = if found == 1 { "was" } else { "were" };
            Some(format!("{} where the shell meets itself across a hollow of the limb {were} filled.", count(found)))
        }
        (_, left) => {
            Some(format!("The shell meets itself across a hollow of the limb and leaves {} there.", count(left)))
        }
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use test_shapes::{Diagonals, height_field, icosphere, torus};
    use zone::{Region, Zone};

    use super::*;
    use crate::{Design, Quality, Rim, build};

    /// A valley with walls of 50 degrees along y. The zone covers one wall and reaches over the bottom up the other, as far
    /// as a line `up_mm` up that waves by 1.5 mm with a period of 6 mm: there its rim meets the sheet over the first wall
    /// in places.
    fn valley(up_mm: f64) -> (Surface, Zone) {
        let skin: Surface =
            height_field(80, 80, 0.75, Diagonals::Alternate, |x, _| 1.2 * ((x - 30.0).powi(2) + 0.1).sqrt()).build();
        let distance = |p: &Point3<f32>| {
            let [x, y] = [p.x, p.y].map(f64::from);
            let line = up_mm + 1.5 * (TAU * y / 6.0).sin();
            (line - 1.56 * (x - 30.0)).min(x - 10.0).min(y - 6.0).min(54.0 - y) as f32
        };
        let distance_mm = skin.mesh().points.iter().map(distance).collect();
        let edge = vec![Point3::origin(); 3];
        let zone = Zone { covered: Region { distance_mm, edges: vec![edge] }, ..Zone::default() };
        (skin, zone)
    }

    #[test]
    fn genus_counts_tunnels() {
        let ball: Mesh = icosphere(10.0, 2).build();
        let ring: Mesh = torus(20.0, 5.0, 40, 20).build();
        assert_eq!((genus(&ball), genus(&ring)), (0, 1));
    }

    #[test]
    fn narrow_tunnels_in_a_fold_are_filled_and_said() {
        let rim = Rim { round_mm: 1.0, flare_mm: 1.2, flare_width_mm: 6.0 };
        let design = Design { gap_mm: 2.0, thickness_mm: 2.4, rim, ..Design::default() };
        let quality = Quality::default();
        let mut filled = 0;
        for up_mm in [2.0, 2.5, 3.0, 3.5, 4.0] {
            let (skin, zone) = valley(up_mm);
            let shell = build(&skin, &zone, &design, &quality, &Job::silent()).unwrap();
            assert_eq!(genus(&shell.mesh), 0, "{up_mm}: {:?}", shell.notices);
            assert!(shell.proof.is_solid());
            // Never nearer to the skin than the gap, but for the tolerance.
            let away = shell.mesh.points.iter().map(|p| skin.nearest(p, None).unwrap().distance2.sqrt());
            assert!(away.fold(f32::INFINITY, f32::min) > 1.95, "{up_mm}");
            filled += shell.notices.iter().filter(|n| n.contains("across a hollow of the limb w")).count();
        }
        assert!(filled > 0, "none of these valleys has a tunnel to fill");
    }
}
