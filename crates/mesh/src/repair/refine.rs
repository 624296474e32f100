//! Splitting long edges.

use std::collections::HashMap;

use nalgebra::center;

use crate::{Adjacency, Cancelled, Job, Mesh};

/// Splits edges until none is longer than `longest_mm`; returns how many were split.
///
/// All long edges are halved at once, both triangles at an edge use the same new point, so that no crack opens, and the
/// new points lie on the old surface. Colours are interpolated.
///
/// # Errors
/// [`Cancelled`] when the job is stopped.
pub fn refine(mesh: &mut Mesh, longest_mm: f32, job: &Job) -> Result<usize, Cancelled> {
    let limit = longest_mm * longest_mm;
    let mut split = 0;
    loop {
        job.check()?;
        let mut middles: HashMap<(u32, u32), u32> = HashMap::new();
        let mut halves = Vec::new();
        for corners in &mesh.triangles {
            for k in 0..3 {
                let (a, b) = (corners[k], corners[(k + 1) % 3]);
                let (a, b) = (a.min(b), a.max(b));
                let (p, q) = (mesh.points[a as usize], mesh.points[b as usize]);
                if (q - p).norm_squared() > limit {
                    // Numbered in the order of the triangles; the map is only looked up, never walked.
                    middles.entry((a, b)).or_insert_with(|| {
                        halves.push((a, b));
                        (mesh.points.len() + halves.len() - 1) as u32
                    });
                }
            }
        }
        if halves.is_empty() {
            return Ok(split);
        }
        split += halves.len();
        for (a, b) in &halves {
            mesh.points.push(center(&mesh.points[*a as usize], &mesh.points[*b as usize]));
            if let Some(colours) = &mut mesh.colours {
                let (x, y) = (colours[*a as usize], colours[*b as usize]);
                colours.push([0, 1, 2].map(|i| x[i].midpoint(y[i])));
            }
        }
        let mut triangles = Vec::with_capacity(mesh.triangles.len() * 2);
        for corners in &mesh.triangles {
            let middle = [0, 1, 2].map(|k| {
                let (a, b) = (corners[k], corners[(k + 1) % 3]);
                middles.get(&(a.min(b), a.max(b))).copied()
            });
            divide(mesh, *corners, middle, &mut triangles);
        }
        mesh.triangles = triangles;
    }
}

/// About how many triangles [`refine`] makes of a mesh.
///
/// A triangle whose sides are halved k₁ ≥ k₂ ≥ k₃ times falls into four while all three are too long, then into three while
/// two are, then into two: 4^k₃ · 3^(k₂ − k₃) · 2^(k₁ − k₂). The new sides inside it are as long as its own, or in a blunt
/// triangle a little longer, so that the true number may be some way off in the last halving.
#[must_use]
pub fn refined_count(mesh: &Mesh, longest_mm: f32) -> f64 {
    let halvings = |length: f32| (length / longest_mm).log2().ceil().max(0.0);
    (0..mesh.triangles.len())
        .map(|t| {
            let [a, b, c] = mesh.corners(t);
            let mut times = [(b - a).norm(), (c - b).norm(), (a - c).norm()].map(halvings);
            times.sort_unstable_by(f32::total_cmp);
            let [least, middle, most] = times.map(f64::from);
            4_f64.powf(least) * 3_f64.powf(middle - least) * 2_f64.powf(most - middle)
        })
        .sum()
}

fn divide(mesh: &Mesh, corners: [u32; 3], middle: [Option<u32>; 3], out: &mut Vec<[u32; 3]>) {
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
                    let apart = |p: u32, q: u32| (mesh.points[p as usize] - mesh.points[q as usize]).norm_squared();
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

/// Mean length of the edges at each vertex.
pub(super) fn mean_edges_mm(mesh: &Mesh, adjacency: &Adjacency, v: u32) -> f64 {
    let ring = adjacency.vertices_around(mesh, v);
    let p = mesh.points[v as usize];
    ring.iter().map(|w| f64::from((mesh.points[*w as usize] - p).norm())).sum::<f64>() / ring.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;
    use proptest::prelude::*;

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
                let [a, b, c] = mesh.corners(t);
                prop_assert!((b - a).norm().max((c - b).norm()).max((a - c).norm()) <= limit);
            }
        }
    }
}
