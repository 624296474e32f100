//! Nearest points and rays: a bounding volume hierarchy with four boxes a node.

mod closest;
mod ray;
mod sheared;
mod tree;

use nalgebra::Point3;
use rayon::prelude::*;

use crate::four::{FourTriangles, LEAF};
use crate::job::{Poll, Unstoppable};
use crate::{Cancelled, Job, Mesh};
pub(crate) use closest::hit_on;
use tree::{Item, Node, build};

/// What part of a triangle is nearest, or was hit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TriangleFeature {
    /// The triangle, away from its sides.
    Face,
    /// Side `k`, from corner `k` to corner `k + 1`.
    Edge(u8),
    /// Corner `k`.
    Vertex(u8),
}

/// A point of a surface: the nearest one to some place, or the first along a ray.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hit {
    /// Triangle that holds the point.
    pub triangle: u32,
    /// The point itself.
    pub point: Point3<f32>,
    /// Barycentric weights of the triangle's corners; they add up to one.
    pub weights: [f32; 3],
    /// Squared distance from the place asked about, or from the start of the ray, mm².
    pub distance2: f32,
    /// Triangle, side or corner.
    pub feature: TriangleFeature,
}

/// A bounding volume hierarchy over the triangles of a mesh: which point is nearest to a place, and what a ray meets
/// first.
#[derive(Debug, Clone)]
pub struct Bvh {
    nodes: Vec<Node>,
    /// Triangle number of each slot, in tree order.
    order: Vec<u32>,
    /// Corners of each slot, in tree order.
    corners: Vec<[Point3<f32>; 3]>,
    /// The same triangles four by four, each leaf one group.
    groups: Vec<FourTriangles>,
    /// Slot of each triangle.
    slot: Vec<u32>,
}

impl Bvh {
    /// Builds the tree in O(n log n) by splitting at the median along the longest side.
    #[must_use]
    pub fn new(mesh: &Mesh) -> Self {
        let Ok(built) = Self::polled(mesh, &Unstoppable);
        built
    }

    /// As [`Bvh::new`].
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub fn build(mesh: &Mesh, job: &Job) -> Result<Self, Cancelled> {
        Self::polled(mesh, job)
    }

    pub(crate) fn polled<P: Poll>(mesh: &Mesh, poll: &P) -> Result<Self, P::Stop> {
        let item = |t: usize| {
            let [a, b, c] = mesh.corners(t);
            let (lo, hi) = (a.inf(&b).inf(&c), a.sup(&b).sup(&c));
            Item { triangle: t as u32, middle: nalgebra::center(&lo, &hi), lo, hi, cross: (b - a).cross(&(c - a)) }
        };
        let mut items = poll.each(mesh.triangles.len(), item)?;
        let nodes = if items.is_empty() { Vec::new() } else { build(mesh, &mut items, 0, poll)? };
        poll.poll()?;
        let order: Vec<u32> = items.iter().map(|i| i.triangle).collect();
        drop(items);
        poll.poll()?;
        let mut slot = vec![0; order.len()];
        for (s, t) in order.iter().enumerate() {
            slot[*t as usize] = s as u32;
        }
        poll.poll()?;
        let corners = poll.each(order.len(), |s| mesh.corners(order[s] as usize))?;
        poll.poll()?;
        let groups = corners.par_chunks(LEAF).map(FourTriangles::new).collect();
        Ok(Self { nodes, order, corners, groups, slot })
    }
}

#[cfg(test)]
fn bumpy() -> Mesh {
    let height = |x: f64, y: f64| (x * 0.7).sin() * 2.0 + (y * 0.9).cos() * 3.0;
    test_shapes::height_field(39, 29, 1.0, test_shapes::Diagonals::Alike, height).build()
}
