//! Folds: where the shell meets itself across a narrow hollow of the limb, as between two fingers.
//!
//! Across the middle of a hollow, the medial axis of the skin, nearest points jump from one side to the other, and with
//! them the distance to the trim line and the lift of the rim. Two sheets of the shell meet there at different heights,
//! and where they just miss each other they leave a narrow tunnel. It shows in the genus of the solid, and is filled by
//! a bead of material on the fold.

use mesh::{Adjacency, Cancelled, Job, Mesh, NONE, SpatialHash, Surface};
use nalgebra::{Point3, Vector3, center};
use rayon::prelude::*;

use crate::Field;
use crate::field::Sample;
use crate::surface::Ball;

/// Radii of the beads, mm: a wider one is tried where a tunnel is left.
const RADII_MM: [f32; 3] = [0.8, 1.4, 2.2];
/// How often beads are tried on the whole surface, each time several that lie apart.
pub(super) const MOST_TRIES: usize = 8;
/// Beads are tried about this far apart along a fold, mm.
const APART_MM: f32 = 1.2;
/// Most places where beads are tried on a small grid, which takes some 10 ms each. Rough skin has thousands of small
/// folds.
const MOST_PLACES: usize = 500;
/// So many of them are tried before the beads found are tried on the whole surface.
const PLACES_AT_ONCE: usize = 48;
/// So many places are looked at with one set of marks for all triangles.
const PLACES_A_PATCH: usize = 1024;
/// A bead is tried on a small grid with points this far apart, mm.
const STEP_MM: f32 = 0.4;
/// Nearest points of two neighbouring vertices jump where they are this much farther apart than the vertices.
const JUMP: f32 = 4.0;
/// A jump is at least this long, mm.
const LEAST_JUMP_MM: f32 = 1.5;
/// Vertices between two checks for cancellation.
const VERTICES_A_LOOK: usize = 4096;

/// The value of a bead, a ball of material above the inner face and beside the openings, at a point where the field has
/// this sample; above zero outside the ball.
fn bead_value(bead: &Ball, field: &Field<'_>, p: &Point3<f32>, sample: &Sample) -> f32 {
    let away = (p - bead.centre).norm() - bead.radius_mm;
    match sample.foot {
        Some(foot) if away < 0.0 => away.max(sample.below_inner_mm).max(-field.opening_mm(&foot)),
        _ => f32::INFINITY,
    }
}

/// The field with beads, and the nearest skin triangle.
pub(super) fn value(field: &Field<'_>, beads: &[Ball], p: &Point3<f32>, seed: Option<u32>) -> (f32, u32) {
    let sample = field.sample(p, seed);
    let value = beads.iter().map(|bead| bead_value(bead, field, p, &sample)).fold(sample.value, f32::min);
    (value, sample.triangle)
}

/// The search for beads that fill tunnels.
pub(super) struct BeadSearch<'a> {
    field: &'a Field<'a>,
    /// Places on folds that were not tried yet, those most like a tunnel last.
    places: Vec<Point3<f32>>,
    /// Beads that fill one tunnel each as far as a small grid round them tells.
    beads: Vec<Ball>,
}

impl<'a> BeadSearch<'a> {
    /// Finds the places on folds of `whole`, the surface of `field`, where beads may fill tunnels; at most 500.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub(super) fn new(field: &'a Field<'a>, whole: &Mesh, job: &Job) -> Result<Self, Cancelled> {
        let mut near = SpatialHash::new(APART_MM);
        let mut centres = Vec::new();
        for (p, triangle) in fold_points(field.skin(), whole, job)? {
            if near.within(&p, APART_MM).is_empty() {
                near.add(p);
                centres.push((p, triangle));
            }
        }
        let mut places = beside_tunnels(&centres, whole, job)?;
        places.truncate(MOST_PLACES);
        places.reverse();
        Ok(Self { field, places, beads: Vec::new() })
    }

    /// The next beads to try on the whole surface, which touch neither each other nor the `kept` ones: as many as are
    /// wanted, or all there are.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub(super) fn next(&mut self, wanted: usize, kept: &[Ball], job: &Job) -> Result<Vec<Ball>, Cancelled> {
        loop {
            let mut taken = take_apart(&mut self.beads, kept, wanted);
            if taken.len() == wanted || self.places.is_empty() {
                return Ok(taken);
            }
            let some = self.places.split_off(self.places.len().saturating_sub(PLACES_AT_ONCE));
            let found: Vec<Option<Ball>> = some
                .into_par_iter()
                .map(|centre| {
                    job.check()?;
                    Ok(filling_bead(self.field, centre))
                })
                .collect::<Result<_, Cancelled>>()?;
            let mut found: Vec<Ball> = found.into_iter().flatten().collect();
            found.sort_by(|a, b| a.radius_mm.total_cmp(&b.radius_mm));
            taken.append(&mut self.beads);
            taken.append(&mut found);
            self.beads = taken;
        }
    }

    /// Beads to be tried once more, after all others.
    pub(super) fn put_back(&mut self, beads: Vec<Ball>) {
        self.beads.extend(beads);
    }
}

/// Takes the first beads that touch neither each other nor the `kept` ones out of `beads`, at most so many.
fn take_apart(beads: &mut Vec<Ball>, kept: &[Ball], most: usize) -> Vec<Ball> {
    let mut taken: Vec<Ball> = Vec::new();
    beads.retain(|bead| {
        let touches = |other: &Ball| (other.centre - bead.centre).norm() < other.radius_mm + bead.radius_mm + STEP_MM;
        let stays = taken.len() == most || taken.iter().chain(kept).any(touches);
        if !stays {
            taken.push(*bead);
        }
        stays
    });
    taken
}

/// Keeps the places near which the surface is more than one sheet: the part of it round the triangle given with each,
/// as far as the widest bead reaches, is not a disk. In a disk every loop can be drawn together to a point, so it holds
/// no tunnel. Those with the least Euler characteristic come first.
fn beside_tunnels(places: &[(Point3<f32>, u32)], whole: &Mesh, job: &Job) -> Result<Vec<Point3<f32>>, Cancelled> {
    let reach = RADII_MM[RADII_MM.len() - 1] + STEP_MM;
    let adjacency = Adjacency::build(whole, job)?;
    let some = |places: &[(Point3<f32>, u32)]| -> Result<Vec<(i32, Point3<f32>)>, Cancelled> {
        let mut patch = Patch::new(whole, &adjacency);
        places
            .iter()
            .map(|(place, triangle)| {
                job.check()?;
                Ok((patch.euler_characteristic(*triangle, place, reach), *place))
            })
            .collect()
    };
    let mut found = places.par_chunks(PLACES_A_PATCH).map(some).collect::<Result<Vec<_>, Cancelled>>()?.concat();
    found.retain(|(euler, _)| *euler < 1);
    found.sort_by_key(|(euler, _)| *euler);
    Ok(found.into_iter().map(|(_, place)| place).collect())
}

/// Parts of a closed surface, one after another.
struct Patch<'a> {
    mesh: &'a Mesh,
    adjacency: &'a Adjacency,
    /// The number of the last part that each triangle and vertex belonged to.
    triangle: Vec<u32>,
    vertex: Vec<u32>,
    number: u32,
}

impl<'a> Patch<'a> {
    fn new(mesh: &'a Mesh, adjacency: &'a Adjacency) -> Self {
        let (triangle, vertex) = (vec![0; mesh.triangles.len()], vec![0; mesh.points.len()]);
        Self { mesh, adjacency, triangle, vertex, number: 0 }
    }

    /// Euler characteristic of the triangles that can be reached from `start` over edges without leaving a ball: 1 for a
    /// disk, less for each hole and handle.
    fn euler_characteristic(&mut self, start: u32, centre: &Point3<f32>, reach: f32) -> i32 {
        self.number += 1;
        let within =
            |t: u32| self.mesh.corners(t as usize).iter().all(|p| (p - centre).norm_squared() <= reach * reach);
        let mut found = Vec::new();
        let mut stack = vec![start];
        self.triangle[start as usize] = self.number;
        while let Some(t) = stack.pop() {
            found.push(t);
            for &n in &self.adjacency.neighbours[t as usize] {
                if n != NONE && self.triangle[n as usize] != self.number && within(n) {
                    self.triangle[n as usize] = self.number;
                    stack.push(n);
                }
            }
        }
        let (mut vertices, mut border) = (0, 0);
        for t in &found {
            for k in 0..3 {
                let v = self.mesh.triangles[*t as usize][k] as usize;
                vertices += i32::from(self.vertex[v] != self.number);
                self.vertex[v] = self.number;
                let n = self.adjacency.neighbours[*t as usize][k];
                border += i32::from(n == NONE || self.triangle[n as usize] != self.number);
            }
        }
        let triangles = found.len() as i32;
        // Inner edges were met from two triangles, those on the border from one.
        vertices - (3 * triangles + border) / 2 + triangles
    }
}

/// The smallest bead about `centre` that raises the Euler characteristic of the solid by one: it closes one tunnel.
fn filling_bead(field: &Field<'_>, centre: Point3<f32>) -> Option<Ball> {
    let widest = RADII_MM[RADII_MM.len() - 1];
    // One step beyond the widest bead: cells farther off keep all their corners, and with them their part of the sum.
    let count = (2.0 * (widest + STEP_MM) / STEP_MM).ceil() as usize + 1;
    let low = centre - Vector3::repeat(0.5 * STEP_MM * (count - 1) as f32);
    let place = |n: usize| {
        let [i, j, k] = [n % count, n / count % count, n / count / count];
        low + Vector3::new(i as f32, j as f32, k as f32) * STEP_MM
    };
    let mut seed = None;
    let samples: Vec<Sample> = (0..count.pow(3))
        .map(|n| {
            let sample = field.sample(&place(n), seed);
            seed = Some(sample.triangle);
            sample
        })
        .collect();
    let before = euler_characteristic(count, |n| samples[n].value < 0.0);
    RADII_MM.into_iter().map(|radius_mm| Ball { centre, radius_mm }).find(|bead| {
        let filled = |n: usize| samples[n].value < 0.0 || bead_value(bead, field, &place(n), &samples[n]) < 0.0;
        euler_characteristic(count, filled) == before + 1
    })
}

/// Vertices less edges plus squares less cubes of the grid points inside.
fn euler_characteristic(count: usize, inside: impl Fn(usize) -> bool) -> i64 {
    let inside: Vec<bool> = (0..count.pow(3)).map(inside).collect();
    let steps = [1, count, count * count];
    let mut sum = 0;
    for n in (0..inside.len()).filter(|n| inside[*n]) {
        let room = [n % count, n / count % count, n / count / count].map(|i| i + 1 < count);
        // The cell of each set of axes that starts here: an edge has one axis, a square two, a cube three.
        for axes in 0..8_usize {
            let used = |axis: &usize| axes >> axis & 1 == 1;
            let whole = (0..3).filter(used).all(|axis| room[axis])
                && (0..8_usize).filter(|corner| corner & !axes == 0).all(|corner| {
                    let off: usize = (0..3).filter(|axis| corner >> axis & 1 == 1).map(|axis| steps[axis]).sum();
                    inside[n + off]
                });
            if whole {
                sum += if axes.count_ones() % 2 == 0 { 1 } else { -1 };
            }
        }
    }
    sum
}

/// The middles of the edges of the surface across which nearest points jump, each with a triangle of the surface there.
fn fold_points(skin: &Surface, whole: &Mesh, job: &Job) -> Result<Vec<(Point3<f32>, u32)>, Cancelled> {
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
    for (t, corners) in (0..).zip(&whole.triangles) {
        for k in 0..3 {
            let [a, b] = [corners[k], corners[(k + 1) % 3]].map(|v| v as usize);
            let (p, q) = (whole.points[a], whole.points[b]);
            let jump = (feet[a] - feet[b]).norm();
            // Each edge once, from one of its two triangles.
            if a < b && jump > LEAST_JUMP_MM && jump > JUMP * (p - q).norm() {
                found.push((center(&p, &q), t));
            }
        }
    }
    Ok(found)
}

/// Genus of a closed surface of one component: the number of its tunnels.
pub(super) fn genus(mesh: &Mesh) -> usize {
    // Euler: V − E + F = 2 − 2g, with E = 3F/2.
    let euler = mesh.points.len() as i64 - mesh.triangles.len() as i64 / 2;
    usize::try_from((2 - euler) / 2).unwrap_or(0)
}

/// The notice on tunnels that were found and on those left.
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

    /// A valley with walls of 50 degrees along y. The zone covers one wall and reaches over the bottom up the other, as
    /// far as a line `up_mm` up that waves by 1.5 mm with a period of 6 mm: there its rim meets the sheet over the
    /// first wall in places.
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
    fn a_part_of_a_tube_is_a_disk_until_it_reaches_round_it() {
        // A ring of tubes 10 mm wide: a ball about a place on its outside holds a cap of it, a length of tube, and from
        // 50 mm on all of it.
        let ring: Mesh = torus(20.0, 5.0, 200, 60).build();
        let adjacency = Adjacency::new(&ring);
        let place = Point3::new(25.0, 0.0, 0.0);
        let start = (0..ring.triangles.len()).min_by(|a, b| {
            let away = |t: &usize| (ring.corners(*t)[0] - place).norm();
            away(a).total_cmp(&away(b))
        });
        let mut patch = Patch::new(&ring, &adjacency);
        let mut euler = |reach| patch.euler_characteristic(start.unwrap() as u32, &place, reach);
        assert_eq!([4.0, 15.0, 60.0, 4.0].map(&mut euler), [1, 0, 0, 1]);
        // A torus without one triangle is a disk with a handle.
        let open = Mesh::new(ring.points.clone(), ring.triangles[1..].to_vec());
        let adjacency = Adjacency::new(&open);
        assert_eq!(Patch::new(&open, &adjacency).euler_characteristic(0, &place, 60.0), -1);
    }

    #[test]
    fn a_shell_that_meets_itself_across_a_valley_has_no_tunnel_and_keeps_its_gap() {
        let rim = Rim { round_mm: 1.0, flare_mm: 1.2, flare_width_mm: 6.0, bead_mm: 0.0 };
        let design = Design { gap_mm: 2.0, thickness_mm: 2.4, rim, ..Design::default() };
        let quality = Quality::default();
        for up_mm in [2.0, 2.5, 3.0, 3.5, 4.0] {
            let (skin, zone) = valley(up_mm);
            let shell = build(&skin, &zone, &design, &quality, &Job::silent()).unwrap();
            assert_eq!(genus(&shell.mesh), 0, "{up_mm}: {:?}", shell.notices);
            assert!(shell.proof.as_ref().unwrap().is_solid());
            // Never nearer to the skin than the gap, but for the tolerance.
            let away = shell.mesh.points.iter().map(|p| skin.nearest(p, None).unwrap().distance2.sqrt());
            assert!(away.fold(f32::INFINITY, f32::min) > 1.95, "{up_mm}");
        }
    }

    #[test]
    fn the_euler_characteristic_counts_components_less_tunnels() {
        let at = |n: usize| [n % 5, n / 5 % 5, n / 25];
        let block = |n: usize| at(n).iter().all(|i| (1..4).contains(i));
        let ring = |n: usize| block(n) && at(n)[2] == 2 && at(n)[..2] != [2, 2];
        let two = |n: usize| [[0, 0, 0], [4, 4, 4]].contains(&at(n));
        // A hollow block is a sphere: two.
        let hollow = |n: usize| block(n) && at(n) != [2, 2, 2];
        assert_eq!(euler_characteristic(5, block), 1);
        assert_eq!(euler_characteristic(5, ring), 0);
        assert_eq!(euler_characteristic(5, two), 2);
        assert_eq!(euler_characteristic(5, hollow), 2);
    }
}
