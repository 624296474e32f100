//! Edges where the surface turns too much.

use nalgebra::{Point3, Vector3};
use serde::{Deserialize, Serialize};

use super::clusters::Clusters;
use crate::job::Every;
use crate::{Adjacency, Cancelled, Job, Mesh};

/// A triangle lower than this many rounding steps of its coordinates has no direction to speak of: of a higher one,
/// rounding turns the normal by less than a degree.
const SURE_STEPS: f64 = 128.0;

/// Edges around a place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EdgePlace {
    /// The middle of the edge that turns most.
    pub at: Point3<f32>,
    /// By how much the surface turns there, degrees.
    pub turn_deg: f64,
    /// Length of all such edges around it, mm.
    pub length_mm: f64,
}

/// Edges where the surface turns by more than a limit, convex and concave.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SharpEdges {
    /// How many.
    pub count: usize,
    /// Their length, mm.
    pub length_mm: f64,
    /// Where they are, at least 10 mm apart, the greatest length first.
    pub places: Vec<EdgePlace>,
}

/// By how much the surface turns over each side of each triangle, degrees: the angle between the normals of the two
/// triangles there. Less than `from_deg` is given as 0, as are open and non-manifold sides, and sides of triangles so
/// low that rounding decides their normal.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub(super) fn turns_deg(
    mesh: &Mesh,
    adjacency: &Adjacency,
    from_deg: f64,
    job: &Job,
) -> Result<Vec<[f64; 3]>, Cancelled> {
    let normals = job.each(mesh.triangles.len(), |t| sure_normal(mesh, t))?;
    let nearly_flat = from_deg.to_radians().cos() + 1e-9;
    let turn = |a: &Vector3<f64>, b: &Vector3<f64>| {
        let along = a.dot(b);
        let turn = if along > nearly_flat { 0.0 } else { a.cross(b).norm().atan2(along).to_degrees() };
        if turn < from_deg { 0.0 } else { turn }
    };
    job.each(mesh.triangles.len(), |t| {
        let other = |k: usize| normals.get(adjacency.neighbours[t][k] as usize).copied().flatten();
        [0, 1, 2].map(|k| normals[t].zip(other(k)).map_or(0.0, |(a, b)| turn(&a, &b)))
    })
}

impl SharpEdges {
    /// The edges over which the surface turns by more than `limit_deg`, and the middle of each.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub(super) fn over(
        limit_deg: f64,
        mesh: &Mesh,
        adjacency: &Adjacency,
        turns_deg: &[[f64; 3]],
        most_places: usize,
        job: &Job,
    ) -> Result<(Self, Vec<Point3<f32>>), Cancelled> {
        let mut edges: Vec<EdgePlace> = Vec::new();
        for (t, turns) in turns_deg.iter().enumerate() {
            for (k, turn_deg) in turns.iter().enumerate() {
                // Each edge is seen from its lower triangle.
                if *turn_deg > limit_deg && adjacency.neighbours[t][k] > t as u32 {
                    let corners = mesh.corners(t).map(|p| p.cast::<f64>());
                    let (a, b) = (corners[k], corners[(k + 1) % 3]);
                    let (at, length_mm) = (nalgebra::center(&a, &b).cast(), (b - a).norm());
                    edges.push(EdgePlace { at, turn_deg: *turn_deg, length_mm });
                }
            }
        }
        job.check()?;
        // Stable, so that equal turns stay in the order of the triangles.
        edges.sort_by(|a, b| b.turn_deg.total_cmp(&a.turn_deg));
        let mut every = Every::new(job, 4096);
        let mut clusters = Clusters::new();
        let mut places: Vec<EdgePlace> = Vec::new();
        for edge in &edges {
            every.tick()?;
            let number = clusters.of(&edge.at);
            match places.get_mut(number) {
                Some(place) => place.length_mm += edge.length_mm,
                None => places.push(edge.clone()),
            }
        }
        places.sort_by(|a, b| b.length_mm.total_cmp(&a.length_mm));
        places.truncate(most_places);
        // An empty sum would be minus zero.
        let length_mm = edges.iter().fold(0.0, |sum, e| sum + e.length_mm);
        let middles = edges.iter().map(|edge| edge.at).collect();
        Ok((Self { count: edges.len(), length_mm, places }, middles))
    }
}

/// The normal of a triangle, unless rounding of its corners could turn it by a degree.
pub(super) fn sure_normal(mesh: &Mesh, t: usize) -> Option<Vector3<f64>> {
    let corners = mesh.corners(t).map(|p| p.cast::<f64>());
    let longest = (0..3).map(|k| (corners[(k + 1) % 3] - corners[k]).norm()).fold(0.0, f64::max);
    let farthest = corners.iter().map(|p| p.coords.amax()).fold(0.0, f64::max);
    let cross = mesh.cross(t);
    let height = cross.norm() / longest;
    (height > SURE_STEPS * f64::from(f32::EPSILON) * farthest).then(|| cross.normalize())
}
