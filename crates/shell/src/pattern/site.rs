//! A place for one vent.

use super::tangent_frame::TangentFrame;

/// One place of a lattice or of a set of seeds.
#[derive(Debug, Clone, Copy)]
pub struct Site {
    /// Where.
    pub frame: TangentFrame,
    /// Unit direction of the lattice's first axis in the spot's tangent plane.
    pub axis: [f32; 2],
}

impl Site {
    /// Turns a vector of the tangent plane into the lattice's own axes.
    pub fn lattice_way(&self, way: [f32; 2]) -> [f32; 2] {
        let [c, s] = self.axis;
        [way[0] * c + way[1] * s, way[1] * c - way[0] * s]
    }

    /// Turns a vector in the lattice's own axes into the tangent plane.
    pub fn tangent_way(&self, way: [f32; 2]) -> [f32; 2] {
        let [c, s] = self.axis;
        [way[0] * c - way[1] * s, way[0] * s + way[1] * c]
    }
}
