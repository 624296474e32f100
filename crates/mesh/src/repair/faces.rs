//! Removal of degenerate and duplicate triangles.

use std::collections::HashSet;

use crate::job::Every;
use crate::{Adjacency, Cancelled, Job, Mesh, NONE};

/// What [`drop_bad_faces`] found.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct BadFaces {
    /// Triangles with the same corner twice or a coordinate that is not finite; dropped.
    pub degenerate: usize,
    /// Triangles with the corners of an earlier one, in either orientation; dropped.
    pub duplicate: usize,
    /// Triangles whose corners lie on one line; their longest side was flipped, so that no crack opens.
    pub turned: usize,
    /// Triangles on one line without a neighbour to flip that side with; dropped.
    pub flat: usize,
}

/// Height over longest side under which a triangle counts as a line.
const FLAT: f64 = 1e-6;

/// Drops or mends degenerate and duplicate triangles. The first of several equal ones stays.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub fn drop_bad_faces(mesh: &mut Mesh, job: &Job) -> Result<BadFaces, Cancelled> {
    let mut found = BadFaces::default();
    let points = &mesh.points;
    let before = mesh.triangles.len();
    mesh.triangles.retain(|[a, b, c]| {
        a != b
            && b != c
            && c != a
            && [a, b, c].iter().all(|v| points[**v as usize].coords.iter().all(|x| x.is_finite()))
    });
    found.degenerate = before - mesh.triangles.len();

    job.check()?;
    // The set only tells whether a triangle is new, so its order does not matter.
    let mut seen = HashSet::with_capacity(mesh.triangles.len());
    let mut every = Every::new(job, 1 << 16);
    let mut first = Vec::with_capacity(mesh.triangles.len());
    for corners in &mesh.triangles {
        every.tick()?;
        let mut key = *corners;
        key.sort_unstable();
        first.push(seen.insert(key));
    }
    drop(seen);
    let before = mesh.triangles.len();
    let mut kept = first.into_iter();
    mesh.triangles.retain(|_| kept.next().unwrap_or(false));
    found.duplicate = before - mesh.triangles.len();

    turn_flat_faces(mesh, &mut found, job)?;
    Ok(found)
}

fn is_flat(mesh: &Mesh, t: usize) -> Option<usize> {
    let p = mesh.corners(t).map(|p| p.cast::<f64>());
    let sides = [0, 1, 2].map(|k| (p[(k + 1) % 3] - p[k]).norm_squared());
    let longest = (0..3).fold(0, |best, k| if sides[k] > sides[best] { k } else { best });
    (mesh.cross(t).norm() <= FLAT * sides[longest]).then_some(longest)
}

fn turn_flat_faces(mesh: &mut Mesh, found: &mut BadFaces, job: &Job) -> Result<(), Cancelled> {
    if !(0..mesh.triangles.len()).any(|t| is_flat(mesh, t).is_some()) {
        return Ok(());
    }
    let adjacency = Adjacency::build(mesh, job)?;
    let mut touched = vec![false; mesh.triangles.len()];
    let mut drop = vec![false; mesh.triangles.len()];
    let mut every = Every::new(job, 64);
    for t in 0..mesh.triangles.len() {
        let Some(k) = is_flat(mesh, t) else { continue };
        every.tick()?;
        let across = adjacency.neighbours[t][k];
        if touched[t] {
            continue;
        }
        if across == NONE {
            // No triangle on the far side, so no crack can open.
            drop[t] = true;
            found.flat += 1;
            continue;
        }
        let u = across as usize;
        let [a, b, c] = [0, 1, 2].map(|i| mesh.triangles[t][(k + i) % 3]);
        let Some(far) = mesh.triangles[u].into_iter().find(|v| *v != a && *v != b) else { continue };
        let exists = adjacency.triangles_around(c).iter().any(|w| mesh.triangles[*w as usize].contains(&far));
        let same_way = (0..3).any(|i| mesh.triangles[u][i] == b && mesh.triangles[u][(i + 1) % 3] == a);
        if touched[u] || exists || far == c || !same_way {
            continue;
        }
        mesh.triangles[t] = [c, a, far];
        mesh.triangles[u] = [c, far, b];
        touched[t] = true;
        touched[u] = true;
        found.turned += 1;
    }
    let mut dropped = drop.iter();
    mesh.triangles.retain(|_| !dropped.next().unwrap_or(&false));
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    #[test]
    fn each_kind_of_bad_face_is_counted_and_none_leaves_a_crack() {
        let p = |x: f32, y: f32| Point3::new(x, y, 0.0);
        let points = vec![p(0., 0.), p(2., 0.), p(1., 0.), p(1., 1.), p(1., -1.), p(f32::NAN, 0.)];
        let mut mesh =
            Mesh::new(points, vec![[0, 2, 1], [0, 1, 3], [1, 0, 4], [3, 0, 1], [0, 3, 1], [0, 0, 1], [0, 1, 5]]);
        // Triangle 0 lies on the line 0-2-1 and has both others across the same side: a non-manifold edge.
        let fan = drop_bad_faces(&mut mesh.clone(), &Job::silent()).unwrap();
        assert_eq!((fan.degenerate, fan.duplicate), (2, 2));
        mesh.triangles = vec![[0, 2, 1], [0, 1, 3], [0, 4, 2], [2, 4, 1]];
        let found = drop_bad_faces(&mut mesh, &Job::silent()).unwrap();
        assert_eq!(found, BadFaces { turned: 1, ..BadFaces::default() });
        let adjacency = Adjacency::new(&mesh);
        assert_eq!((adjacency.open_edges, adjacency.flipped_edges), (4, 0));
        assert!((mesh.area_mm2() - 2.0).abs() < 1e-9);
    }
}
