//! How much of the rim's lift each part of the edge gets: all of it where there is room, less where the zone is narrow
//! or the limb hollow. Lifted by the full height there, the two sides of a strip would meet in a crease, and in a hollow
//! the wall would close upon itself.

use mesh::{Cancelled, Job, Surface};
use nalgebra::{Matrix2, Matrix3, Point3, Vector2, Vector3};
use rayon::prelude::*;

use super::near::Near;
use crate::Design;

/// Up a slope of at least this much, mm a millimetre, the distance to the edge leads to the middle of a strip; on the
/// middle it rises less, as along a corner of less than about 75 degrees.
const CREST: f32 = 0.6;
/// Lengths in a hollow are left with at least this share on the outer face.
const LEFT: f32 = 0.45;
/// The share changes gently along the edge: it is averaged over about this distance, mm.
const EVEN_MM: f64 = 8.0;
/// Most rounds of averaging.
const MOST_ROUNDS: usize = 60;
/// Round a place that is to stay level the rim is not lifted within the first, and fully beyond the second, mm.
const LEVEL_MM: [f32; 2] = [8.0, 24.0];
/// Vertices this near to the edge are on it, mm.
const ON_EDGE_MM: f32 = 2.0;

/// The share of the lift over each vertex.
pub(super) struct Lift {
    /// 0 to 1; 1 away from the zone.
    pub(super) share: Vec<f32>,
    /// Where along the edge it is least, and how much it is there.
    pub(super) least: Option<(Point3<f32>, f32)>,
}

/// What decides, for all designs alike, how much room a lift has over each vertex near the zone.
#[derive(Debug)]
pub(super) struct Room {
    /// How deep the zone is at the middle of the strip that the vertex lies in, mm.
    half_mm: Vec<f32>,
    /// How hollow the skin is there, 1/mm; negative where it bulges both ways.
    pub(super) hollow_per_mm: Vec<f32>,
}

impl Room {
    /// `normals` are the even ones of the skin.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub(super) fn new(
        skin: &Surface,
        near: &Near,
        edge_mm: &[f32],
        normals: &[Vector3<f32>],
        job: &Job,
    ) -> Result<Self, Cancelled> {
        let hollow_per_mm = job.each(near.count, |i| -least_curvature_per_mm(skin, near, normals, i))?;
        Ok(Self { half_mm: half_widths_mm(skin, near, edge_mm), hollow_per_mm })
    }
}

/// What lifts are worked out on.
pub(super) struct LiftedEdge<'a> {
    pub(super) skin: &'a Surface,
    pub(super) near: &'a Near,
    /// Distance to the trim line at each vertex, positive inside, mm.
    pub(super) edge_mm: &'a [f32],
    pub(super) room: &'a Room,
    /// Places round which the rim is not lifted.
    pub(super) level_at: &'a [Point3<f32>],
}

impl LiftedEdge<'_> {
    /// # Errors
    /// [`Cancelled`] on request.
    pub(super) fn lift(&self, design: &Design, job: &Job) -> Result<Lift, Cancelled> {
        let mut share = vec![1.0; self.skin.mesh().points.len()];
        let (flare_mm, wide_mm) = (design.rim.flare_mm, design.rim.flare_width_mm.max(1e-3));
        if flare_mm <= 0.0 {
            return Ok(Lift { share, least: None });
        }
        let wall_mm = design.gap_mm + design.thickness_mm;
        // Farther inside the lift is nothing, whatever its share.
        let is_lifted = |i: &usize| self.edge_mm[self.near.vertices[*i] as usize] < wide_mm + EVEN_MM as f32;
        let lifted: Vec<usize> = (0..self.near.count).filter(is_lifted).collect();
        let mut shares = vec![1.0; self.near.count];
        let found = job.each(lifted.len(), |k| {
            let i = lifted[k];
            let narrow = self.room.half_mm[i] / wide_mm;
            let hollow = self.room.hollow_per_mm[i];
            let room_mm = if hollow > 0.0 { (1.0 - LEFT) / hollow - wall_mm } else { f32::INFINITY };
            narrow.min(room_mm / flare_mm).min(self.away_from_level(i)).clamp(0.0, 1.0)
        })?;
        if found.iter().all(|share| *share == 1.0) {
            return Ok(Lift { share, least: None });
        }
        lifted.iter().zip(found).for_each(|(i, found)| shares[*i] = found);
        let rounds = (EVEN_MM / self.near.mean_edge_mm.max(1e-3)).powi(2) as usize;
        for _ in 0..rounds.clamp(1, MOST_ROUNDS) {
            job.check()?;
            let mean = |i: &usize| {
                let around = self.near.around(*i).iter().filter(|n| (**n as usize) < self.near.count);
                let (sum, count) = around.fold((shares[*i], 1.0), |(sum, n), w| (sum + shares[*w as usize], n + 1.0));
                sum / count
            };
            let means: Vec<f32> = lifted.par_iter().with_min_len(4096).map(mean).collect();
            lifted.iter().zip(means).for_each(|(i, mean)| shares[*i] = mean);
        }
        let mut least: Option<(Point3<f32>, f32)> = None;
        for (v, of_it) in self.near.vertices.iter().map(|v| *v as usize).zip(shares) {
            share[v] = of_it;
            if self.edge_mm[v].abs() < ON_EDGE_MM && least.is_none_or(|(_, least)| of_it < least) {
                least = Some((self.skin.mesh().points[v], of_it));
            }
        }
        Ok(Lift { share, least })
    }

    /// 0 at a place that is to stay level, 1 away from them all.
    fn away_from_level(&self, i: usize) -> f32 {
        let p = self.skin.mesh().points[self.near.vertices[i] as usize];
        let away = self.level_at.iter().map(|q| (p - q).norm()).fold(f32::INFINITY, f32::min);
        ((away - LEVEL_MM[0]) / (LEVEL_MM[1] - LEVEL_MM[0])).clamp(0.0, 1.0)
    }
}

/// For each vertex how deep the zone is at the middle of the strip that it lies in, mm: the distance to the edge
/// where the steepest way up from there ends.
fn half_widths_mm(skin: &Surface, near: &Near, edge_mm: &[f32]) -> Vec<f32> {
    let points = &skin.mesh().points;
    let depth = |i: usize| edge_mm[near.vertices[i] as usize];
    let at = |i: usize| points[near.vertices[i] as usize];
    let mut order: Vec<usize> = (0..near.count).collect();
    order.sort_by(|a, b| depth(*b).total_cmp(&depth(*a)).then(a.cmp(b)));
    let mut half: Vec<f32> = (0..near.count).map(|i| depth(i).max(0.0)).collect();
    for i in order {
        let rise = |n: &u32| (depth(*n as usize) - depth(i)) / (at(*n as usize) - at(i)).norm().max(1e-6);
        let up = near.around(i).iter().filter(|n| (**n as usize) < near.count);
        let steepest = up.map(|n| (rise(n), *n as usize)).max_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, above)) = steepest.filter(|(rise, _)| *rise > CREST) {
            half[i] = half[i].max(half[above]);
        }
    }
    half
}

/// The lesser principal curvature of the skin, 1/mm, negative in a hollow: of the linear map that takes steps to the
/// neighbours to the turns of the normal on them, least squares.
fn least_curvature_per_mm(skin: &Surface, near: &Near, normals: &[Vector3<f32>], i: usize) -> f32 {
    let (points, v) = (&skin.mesh().points, near.vertices[i] as usize);
    let up = normals[v];
    let side = if up.x.abs() < 0.8 { Vector3::x() } else { Vector3::y() };
    let Some(right) = up.cross(&side).try_normalize(1e-6) else { return 0.0 };
    let ahead = up.cross(&right);
    let (mut system, mut known) = (Matrix3::<f32>::zeros(), Vector3::<f32>::zeros());
    for w in near.around(i).iter().map(|n| near.vertices[*n as usize] as usize) {
        let flat = |way: Vector3<f32>| Vector2::new(way.dot(&right), way.dot(&ahead));
        let (step, turn) = (flat(points[w] - points[v]), flat(normals[w] - up));
        // Turn = [[a, b], [b, c]] · step.
        for (row, value) in [(Vector3::new(step.x, step.y, 0.0), turn.x), (Vector3::new(0.0, step.x, step.y), turn.y)] {
            system += row * row.transpose();
            known += row * value;
        }
    }
    let Some(found) = system.cholesky().map(|c| c.solve(&known)) else { return 0.0 };
    Matrix2::new(found.x, found.y, found.y, found.z).symmetric_eigenvalues().min()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample_skins::{Rough, flat, inside_box, tube, zone};
    use crate::{Rim, field::Covered};

    fn lifted(skin: &Surface, edge_mm: &[f32], design: &Design, level_at: &[Point3<f32>]) -> Lift {
        let job = Job::silent();
        let covered = Covered::of(skin, edge_mm, &job).unwrap();
        LiftedEdge { skin, near: &covered.near, edge_mm, room: &covered.room, level_at }.lift(design, &job).unwrap()
    }

    fn design(flare_mm: f32, flare_width_mm: f32) -> Design {
        Design { rim: Rim { flare_mm, flare_width_mm, ..Rim::default() }, ..Design::default() }
    }

    /// A strip of half width 6 mm on a sheet lets a lift over 18 mm have a third; a square of half width 30 all of it.
    #[test]
    fn a_narrow_strip_is_lifted_in_proportion_and_a_wide_zone_fully() {
        let skin = flat(100.0, 100.0, 1.0);
        for (half, share) in [([6.0, 40.0], 1.0 / 3.0), ([30.0, 30.0], 1.0)] {
            let zone = zone(&skin, |p| inside_box(half, [p.x, p.z]));
            let found = lifted(&skin, &zone.covered.distance_mm, &design(3.0, 18.0), &[]);
            // In the middle of a long side.
            for (p, s) in skin.mesh().points.iter().zip(&found.share) {
                if p.z.abs() < 10.0 && (p.x.abs() - half[0]).abs() < 1.0 {
                    assert!((s - share).abs() < 0.07, "{p}: {s} for {share}");
                }
            }
        }
    }

    /// Inside a tube of 20 mm radius, seen as a hollow, 11 mm are left of it: 6 of wall and gap, and 5 to lift.
    #[test]
    fn in_a_hollow_no_more_is_lifted_than_leaves_it_open() {
        let mut mesh = tube(20.0, 120.0, 1.5, Rough::default()).mesh().clone();
        mesh.triangles.iter_mut().for_each(|t| t.swap(1, 2));
        let skin = Surface::new(mesh);
        let edge_mm: Vec<f32> = skin.mesh().points.iter().map(|p| 40.0 - p.z.abs()).collect();
        for (flare_mm, share) in [(10.0, 0.5), (4.0, 1.0)] {
            let found = lifted(&skin, &edge_mm, &design(flare_mm, 20.0), &[]);
            let (at, least) = found.least.unwrap();
            assert!((least - share).abs() < 0.06 && (at.z.abs() - 40.0).abs() < 2.1, "{flare_mm}: {least} at {at}");
        }
    }

    #[test]
    fn round_a_place_that_is_to_stay_level_nothing_is_lifted() {
        let skin = flat(140.0, 140.0, 1.0);
        let zone = zone(&skin, |p| inside_box([50.0, 50.0], [p.x, p.z]));
        let level = [Point3::new(50.0, 0.0, 0.0)];
        let found = lifted(&skin, &zone.covered.distance_mm, &design(3.0, 18.0), &level);
        let (at, least) = found.least.unwrap();
        assert!(least < 0.1 && (at - level[0]).norm() < 4.0, "{least} at {at}");
        for (p, s) in skin.mesh().points.iter().zip(&found.share) {
            assert!(p.x > 0.0 || (s - 1.0).abs() < 1e-3, "{p}: {s}");
        }
    }
}
