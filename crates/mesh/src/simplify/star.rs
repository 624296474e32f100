//! The triangles round one vertex.

use nalgebra::Point3;
use wide::f32x4;

use crate::four::{FourTriangles, LEAF, spread};

/// Most triangles round a vertex that may go; a multiple of the group's size.
pub(super) const STAR: usize = 16;

/// The triangles round one vertex, as the collapses of that vertex need them.
pub(super) struct Star {
    pub(super) count: usize,
    /// The two other corners of each, in the direction of the triangle.
    pub(super) sides: [[u32; 2]; STAR],
    pub(super) places: [[Point3<f32>; 2]; STAR],
    /// The triangles as they are.
    pub(super) old: [FourTriangles; STAR / LEAF],
    /// Unit normals, each four side by side.
    pub(super) normals: [[f32x4; 3]; STAR / LEAF],
}

impl Star {
    pub(super) fn groups(&self) -> usize {
        self.count.div_ceil(LEAF)
    }

    /// The vertices round the middle one, each once.
    pub(super) fn ring(&self) -> impl Iterator<Item = (u32, &Point3<f32>)> {
        self.sides.iter().zip(&self.places).take(self.count).map(|(side, place)| (side[0], &place[0]))
    }

    pub(super) fn least_distance2(groups: &[FourTriangles], p: &Point3<f32>) -> f32 {
        let p = spread(p);
        groups.iter().map(|g| g.least_distance2(&p)).fold(f32::INFINITY, f32::min)
    }
}
