//! The outer part of a chart: distance and angle carried on from triangle to triangle, nearest first.
//!
//! Melvær and Reimers 2012, "Geodesic Polar Coordinates on Polygonal Meshes", Computer Graphics Forum 31 (8): two
//! corners with known distances place a virtual source in the plane of the triangle; the third corner is as far
//! away as the source, and its angle divides that of the two corners as the ray divides the side between them.

use mesh::{Cancelled, Job, NearestFirst, Surface};

use super::straight::{Scratch, arc};

/// A later, shorter way counts only if it is shorter by this share: less is rounding.
const GAIN: f32 = 1e-4;

/// Most ways taken for each vertex, on average. Sound skin needs hardly more than one; where skin is so bent that the
/// sides of its triangles do not fit together, distances could shrink round and round without end.
const MOST_WAYS: usize = 3;

/// Vertices between two checks for cancellation.
const VERTICES_A_LOOK: usize = 4096;

/// Goes on from what was reached straight until all within `radius_mm` is mapped.
pub(super) fn extend(skin: &Surface, radius_mm: f32, scratch: &mut Scratch, job: &Job) -> Result<(), Cancelled> {
    if !scratch.unfinished {
        return Ok(());
    }
    let fixed = scratch.mapped.len();
    let mut queue = NearestFirst::default();
    for i in 0..fixed {
        offer(skin, scratch.mapped[i].0, fixed, scratch, &mut queue);
    }
    let (mut seen, mut ways) = (0, 0);
    while let Some((distance, vertex, uv)) = queue.pop() {
        let distance = distance as f32;
        seen += 1;
        if seen % VERTICES_A_LOOK == 0 {
            job.check()?;
        }
        if !shorter(distance, vertex, fixed, scratch) {
            continue;
        }
        ways += 1;
        if ways > MOST_WAYS * (scratch.mapped.len() + 1) {
            break;
        }
        scratch.set(vertex, uv);
        if distance <= radius_mm + 0.1 {
            offer(skin, vertex, fixed, scratch, &mut queue);
        }
    }
    Ok(())
}

/// Whether a way of this length to `vertex` is better than what is known; what was reached straight stays.
fn shorter(distance: f32, vertex: u32, fixed: usize, scratch: &Scratch) -> bool {
    scratch.place(vertex).is_none_or(|place| {
        let [x, y] = scratch.mapped[place].1;
        place >= fixed && distance < x.hypot(y) * (1.0 - GAIN)
    })
}

/// Offers a distance to each vertex that shares a triangle with `vertex` and another mapped one.
///
/// Mapped vertices may get a shorter way too: beside an obtuse corner the better side of two comes second.
fn offer(skin: &Surface, vertex: u32, fixed: usize, scratch: &Scratch, queue: &mut NearestFirst<[f32; 2]>) {
    let uv = |v: u32| scratch.place(v).map(|p| scratch.mapped[p].1);
    let Some(uv_i) = uv(vertex) else { return };
    for t in skin.adjacency().triangles_around(vertex) {
        let corners = skin.mesh().triangles[*t as usize];
        let Some(own) = corners.iter().position(|v| *v == vertex) else { continue };
        let (next, last) = (corners[(own + 1) % 3], corners[(own + 2) % 3]);
        for (j, k) in [(next, last), (last, next)] {
            let Some(uv_j) = uv(j) else { continue };
            if scratch.place(k).is_some_and(|place| place < fixed) {
                continue;
            }
            let sides = [side(skin, vertex, j), side(skin, j, k), side(skin, k, vertex)];
            if let Some((distance, uv)) = third_corner(uv_i, uv_j, sides)
                && distance.is_finite()
                && uv.iter().all(|x| x.is_finite())
                && shorter(distance, k, fixed, scratch)
            {
                queue.push(distance.into(), k, uv);
            }
        }
    }
}

/// Length of a side along the smooth skin.
fn side(skin: &Surface, a: u32, b: u32) -> f32 {
    let (points, normals) = (&skin.mesh().points, skin.vertex_normals());
    let chord = points[b as usize] - points[a as usize];
    arc(&chord, &normals[a as usize], &normals[b as usize]).norm()
}

/// Distance and coordinates of corner k of the triangle i, j, k; `sides` are ij, jk, ki.
fn third_corner(uv_i: [f32; 2], uv_j: [f32; 2], [ij, jk, ki]: [f32; 3]) -> Option<(f32, [f32; 2])> {
    if ij <= 0.0 {
        return None;
    }
    let (at_i, at_j) = (uv_i[0].hypot(uv_i[1]), uv_j[0].hypot(uv_j[1]));
    // The triangle lies with i at the origin, j on the x axis, k above it; the source lies below.
    let (kx, ky) = apex(ij, ki, jk);
    let (sx, sy) = apex(ij, at_i, at_j);
    let crossing = if sy + ky > 0.0 { sx + (kx - sx) * sy / (sy + ky) } else { kx };
    if crossing <= 0.0 {
        return Some(beyond(uv_i, at_i, ki));
    }
    if crossing >= ij {
        return Some(beyond(uv_j, at_j, jk));
    }
    let distance = (kx - sx).hypot(ky + sy);
    let bearing = |x: f32, y: f32| (x - sx).atan2(y + sy);
    let (to_i, to_j, to_k) = (bearing(0.0, 0.0), bearing(ij, 0.0), bearing(kx, ky));
    let share = if to_j > to_i { ((to_k - to_i) / (to_j - to_i)).clamp(0.0, 1.0) } else { 0.5 };
    let between = (uv_i[0] * uv_j[1] - uv_i[1] * uv_j[0]).atan2(uv_i[0] * uv_j[0] + uv_i[1] * uv_j[1]);
    let (sin, cos) = (uv_i[1].atan2(uv_i[0]) + share * between).sin_cos();
    Some((distance, [distance * cos, distance * sin]))
}

/// The far corner of a triangle that stands on the x axis.
fn apex(base: f32, left: f32, right: f32) -> (f32, f32) {
    let x = (left * left - right * right + base * base) / (2.0 * base);
    (x, (left * left - x * x).max(0.0).sqrt())
}

/// Straight on past a corner.
fn beyond(uv: [f32; 2], distance: f32, step: f32) -> (f32, [f32; 2]) {
    let grown = distance + step;
    let scale = grown / distance.max(f32::MIN_POSITIVE);
    (grown, [uv[0] * scale, uv[1] * scale])
}
