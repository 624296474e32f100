//! Nearest points and rays: a bounding-volume tree with four boxes a node.

mod closest;
mod ray;
mod tree;

use nalgebra::Point3;

use crate::Mesh;
use crate::four::{FourTriangles, LEAF};
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
    /// Square of the distance from where it was looked for: to the nearest point, or along the ray.
    pub distance2: f32,
    /// Triangle, side or corner.
    pub feature: TriangleFeature,
}

/// A tree over the triangles of a mesh that answers which point is nearest and what a ray meets first.
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
        let mut items: Vec<Item> = (0..mesh.triangles.len())
            .map(|t| {
                let [a, b, c] = mesh.corners(t);
                let (lo, hi) = (a.inf(&b).inf(&c), a.sup(&b).sup(&c));
                Item { triangle: t as u32, middle: nalgebra::center(&lo, &hi), lo, hi, cross: (b - a).cross(&(c - a)) }
            })
            .collect();
        let nodes = if items.is_empty() { Vec::new() } else { build(mesh, &mut items, 0) };
        let order: Vec<u32> = items.iter().map(|i| i.triangle).collect();
        let mut slot = vec![0; order.len()];
        for (s, t) in order.iter().enumerate() {
            slot[*t as usize] = s as u32;
        }
        let corners: Vec<[Point3<f32>; 3]> = order.iter().map(|t| mesh.corners(*t as usize)).collect();
        let groups = corners.chunks(LEAF).map(FourTriangles::new).collect();
        Self { nodes, order, corners, groups, slot }
    }
}

#[cfg(test)]
fn bumpy() -> Mesh {
    let height = |x: f64, y: f64| (x * 0.7).sin() * 2.0 + (y * 0.9).cos() * 3.0;
    test_shapes::height_field(39, 29, 1.0, test_shapes::Diagonals::Alike, height).build()
}
