//! Splitting long edges.

use std::collections::HashMap;

use nalgebra::{Point3, center};

use crate::job::Every;
use crate::{Adjacency, Cancelled, Job, Mesh};

/// Most rounds of halving. Twenty bring any edge down to 10⁻⁶ of its length, where its ends are all but neighbouring
/// numbers.
const MOST_ROUNDS: usize = 40;
/// No round is begun that would make more triangles than this beyond those given; [`refined_count`] tells beforehand.
const MOST_ADDED: usize = 8_000_000;

/// Splits edges until none is longer than `longest_mm`; returns how many were split.
///
/// All long edges are halved at once. Both triangles at an edge use the same new point, so that no crack opens, and new
/// points lie on the old surface. Colours are interpolated. It stops early, with long edges left, rather than add more
/// than 8 million triangles.
///
/// # Errors
/// [`Cancelled`] when the job is stopped; the mesh is then as after some whole round, sound but with long edges left.
pub fn refine(mesh: &mut Mesh, longest_mm: f32, job: &Job) -> Result<usize, Cancelled> {
    let most = mesh.triangles.len() + MOST_ADDED;
    let mut split = 0;
    for _ in 0..MOST_ROUNDS {
        let long = LongEdges::find(mesh, longest_mm, job)?;
        // Each side that is halved makes one triangle more.
        let after = mesh.triangles.len() + long.sides;
        if long.edges.is_empty() || after > most {
            break;
        }
        let mut triangles = Vec::with_capacity(after);
        let mut every = Every::new(job, 1 << 15);
        for corners in &mesh.triangles {
            every.tick()?;
            divide(mesh, &long, *corners, &mut triangles);
        }
        for (a, b) in &long.edges {
            mesh.points.push(half_way(&mesh.points[*a as usize], &mesh.points[*b as usize]));
            if let Some(colours) = &mut mesh.colours {
                let (x, y) = (colours[*a as usize], colours[*b as usize]);
                colours.push([0, 1, 2].map(|i| x[i].midpoint(y[i])));
            }
        }
        mesh.triangles = triangles;
        split += long.edges.len();
    }
    Ok(split)
}

/// The middle, without overflow where both are near the largest number.
fn half_way(p: &Point3<f32>, q: &Point3<f32>) -> Point3<f32> {
    center(&p.cast::<f64>(), &q.cast::<f64>()).cast()
}

/// The edges that are to be halved.
struct LongEdges {
    /// Ends of each, the lower first.
    edges: Vec<(u32, u32)>,
    /// The number that the point in the middle of each will have; only looked up, never iterated.
    middles: HashMap<(u32, u32), u32>,
    /// Sides of triangles along them.
    sides: usize,
}

impl LongEdges {
    fn find(mesh: &Mesh, longest_mm: f32, job: &Job) -> Result<Self, Cancelled> {
        let limit = f64::from(longest_mm) * f64::from(longest_mm);
        let mut found = Self { edges: Vec::new(), middles: HashMap::new(), sides: 0 };
        let mut every = Every::new(job, 1 << 15);
        for corners in &mesh.triangles {
            every.tick()?;
            for k in 0..3 {
                let (a, b) = (corners[k], corners[(k + 1) % 3]);
                let (a, b) = (a.min(b), a.max(b));
                let (p, q) = (mesh.points[a as usize], mesh.points[b as usize]);
                if (q.cast::<f64>() - p.cast::<f64>()).norm_squared() > limit {
                    // Neighbouring numbers have no middle.
                    let middle = half_way(&p, &q);
                    if middle != p && middle != q {
                        found.sides += 1;
                        let number = (mesh.points.len() + found.edges.len()) as u32;
                        found.middles.entry((a, b)).or_insert_with(|| {
                            found.edges.push((a, b));
                            number
                        });
                    }
                }
            }
        }
        Ok(found)
    }

    /// The middles of the three sides of a triangle, where they are halved.
    fn of(&self, corners: [u32; 3]) -> [Option<u32>; 3] {
        [0, 1, 2].map(|k| {
            let (a, b) = (corners[k], corners[(k + 1) % 3]);
            self.middles.get(&(a.min(b), a.max(b))).copied()
        })
    }

    /// Where a point lies, or will lie.
    fn point(&self, mesh: &Mesh, v: u32) -> Point3<f32> {
        mesh.points.get(v as usize).copied().unwrap_or_else(|| {
            let (a, b) = self.edges[v as usize - mesh.points.len()];
            half_way(&mesh.points[a as usize], &mesh.points[b as usize])
        })
    }
}

/// About how many triangles [`refine`] makes of a mesh.
///
/// A triangle whose sides are halved k₁ ≥ k₂ ≥ k₃ times falls into four while all three are too long, then into three
/// while two are, then into two: 4^k₃ · 3^(k₂ − k₃) · 2^(k₁ − k₂). The new sides inside it are as long as its own, or
/// in a blunt triangle a little longer, so that the true number may be some way off in the last halving.
#[must_use]
pub fn refined_count(mesh: &Mesh, longest_mm: f32) -> f64 {
    let halvings = |length: f64| (length / f64::from(longest_mm)).log2().ceil().max(0.0);
    (0..mesh.triangles.len())
        .map(|t| {
            let [a, b, c] = mesh.corners(t).map(|p| p.cast::<f64>());
            let mut times = [(b - a).norm(), (c - b).norm(), (a - c).norm()].map(halvings);
            times.sort_unstable_by(f64::total_cmp);
            let [least, middle, most] = times;
            4_f64.powf(least) * 3_f64.powf(middle - least) * 2_f64.powf(most - middle)
        })
        .sum()
}

/// The parts of a triangle some of whose sides are halved.
fn divide(mesh: &Mesh, long: &LongEdges, corners: [u32; 3], out: &mut Vec<[u32; 3]>) {
    let middle = long.of(corners);
    match middle {
        [None, None, None] => out.push(corners),
        [Some(x), Some(y), Some(z)] => {
            let [a, b, c] = corners;
            out.extend([[a, x, z], [x, b, y], [z, y, c], [x, y, z]]);
        }
        _ => {
            let count = middle.iter().flatten().count();
            // Turn so that the only split side comes first, or the only whole side last.
            let turn = (0..3).find(|k| middle[(k + 2) % 3].is_none() && (count == 2 || middle[*k].is_some()));
            let k = turn.unwrap_or(0);
            let [a, b, c] = [corners[k], corners[(k + 1) % 3], corners[(k + 2) % 3]];
            match (middle[k], middle[(k + 1) % 3]) {
                (Some(x), Some(y)) => {
                    out.push([x, b, y]);
                    let apart = |p: u32, q: u32| (long.point(mesh, p) - long.point(mesh, q)).norm_squared();
                    if apart(a, y) <= apart(x, c) {
                        out.extend([[a, x, y], [a, y, c]]);
                    } else {
                        out.extend([[a, x, c], [x, y, c]]);
                    }
                }
                (Some(x), None) => out.extend([[a, x, c], [x, b, c]]),
                _ => out.push(corners),
            }
        }
    }
}

/// Median length of the edges, 0 without triangles. Looks at 60 000 triangles at most, evenly spread.
#[must_use]
pub fn median_edge_mm(mesh: &Mesh) -> f32 {
    let step = (mesh.triangles.len() / 60_000).max(1);
    let mut lengths: Vec<f32> = (0..mesh.triangles.len())
        .step_by(step)
        .flat_map(|t| {
            let [a, b, c] = mesh.corners(t);
            [(b - a).norm(), (c - b).norm(), (a - c).norm()]
        })
        .collect();
    if lengths.is_empty() {
        return 0.0;
    }
    let middle = lengths.len() / 2;
    *lengths.select_nth_unstable_by(middle, f32::total_cmp).1
}

/// Mean length of the edges at vertex `v`.
pub(super) fn mean_edges_mm(mesh: &Mesh, adjacency: &Adjacency, v: u32) -> f64 {
    let ring = adjacency.vertices_around(mesh, v);
    let p = mesh.points[v as usize];
    ring.iter().map(|w| f64::from((mesh.points[*w as usize] - p).norm())).sum::<f64>() / ring.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn edges_from_one_end_of_the_numbers_to_the_other_end_the_work() {
        let p = |x: f32, y: f32| Point3::new(x, y, 0.0);
        let ends = [[0.0, 0.0], [f32::MAX, 0.0], [-f32::MAX, f32::MAX], [3e-45, 0.0], [6e-45, 0.0], [0.0, 3e-45]];
        let mut mesh = Mesh::new(ends.map(|[x, y]| p(x, y)).to_vec(), vec![[3, 4, 5]]);
        refine(&mut mesh, 0.0, &Job::silent()).unwrap();
        assert!(mesh.triangles.len() < 100, "no number lies between neighbours: {}", mesh.triangles.len());
        mesh.triangles = vec![[0, 1, 2]];
        let longest = f32::MAX / 8.0;
        refine(&mut mesh, longest, &Job::silent()).unwrap();
        assert!(mesh.triangles.len() < 2000, "{}", mesh.triangles.len());
        assert!(mesh.points.iter().all(|p| p.iter().all(|x| x.is_finite())));
        for t in 0..mesh.triangles.len() {
            let [a, b, c] = mesh.corners(t).map(|p| p.cast::<f64>());
            assert!((b - a).norm().max((c - b).norm()).max((a - c).norm()) <= f64::from(longest));
        }
    }

    #[test]
    fn a_round_that_would_fill_the_memory_is_not_begun() {
        // Three long triangles on one edge: each halved side adds a triangle, though they share edges.
        let p = |x: f32, y: f32| Point3::new(x, y, 0.0);
        let mut mesh = Mesh::new(
            vec![p(0.0, 0.0), p(1e30, 0.0), p(0.0, 1e30), p(1e30, 1e30), p(0.0, -1e30)],
            vec![[0, 1, 2], [0, 1, 3], [0, 1, 4]],
        );
        let first = LongEdges::find(&mesh, 1.0, &Job::silent()).unwrap();
        assert_eq!((first.edges.len(), first.sides), (7, 9));
        refine(&mut mesh, 1.0, &Job::silent()).unwrap();
        assert!((2_000_000..=3 + MOST_ADDED).contains(&mesh.triangles.len()), "{}", mesh.triangles.len());
    }

    proptest! {
        #[test]
        fn the_count_is_told_beforehand(x in 1.0_f32..60.0, y in 0.1_f32..60.0, shift in -30.0_f32..60.0, limit in 0.7_f32..4.0) {
            let p = Point3::new;
            let mut mesh = Mesh::new(vec![p(0., 0., 0.), p(x, 0., 0.), p(shift, y, 0.)], vec![[0, 1, 2]]);
            let told = refined_count(&mesh, limit);
            refine(&mut mesh, limit, &Job::silent()).unwrap();
            let made = mesh.triangles.len() as f64;
            prop_assert!(told / 4.0 <= made && made <= 4.0 * told, "told {told}, made {made}");
        }

        #[test]
        fn refining_keeps_area_and_edges_closed(x in 1.0_f32..30.0, y in 1.0_f32..30.0, limit in 0.7_f32..4.0) {
            let p = Point3::new;
            let mut mesh = Mesh::new(
                vec![p(0., 0., 0.), p(x, 0., 0.), p(0., y, 0.), p(3., 3., 9.)],
                vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]],
            );
            mesh.colours = Some(vec![[0; 3], [200; 3], [100; 3], [50; 3]]);
            let (area, volume) = (mesh.area_mm2(), mesh.volume_mm3());
            refine(&mut mesh, limit, &Job::silent()).unwrap();
            let adjacency = Adjacency::new(&mesh);
            prop_assert_eq!((adjacency.open_edges, adjacency.non_manifold_edges, adjacency.flipped_edges), (0, 0, 0));
            prop_assert!((mesh.area_mm2() / area - 1.0).abs() < 1e-5);
            prop_assert!((mesh.volume_mm3() / volume - 1.0).abs() < 1e-4);
            prop_assert_eq!(mesh.colours.as_ref().unwrap().len(), mesh.points.len());
            for t in 0..mesh.triangles.len() {
                let [a, b, c] = mesh.corners(t).map(|p| p.cast::<f64>());
                prop_assert!((b - a).norm().max((c - b).norm()).max((a - c).norm()) <= f64::from(limit));
            }
        }
    }
}
