//! How lengths on the skin change in the wall above it.

use std::sync::Arc;

use mesh::{Cancelled, Job, Surface};
use nalgebra::Vector3;

use super::tangent_frame::TangentFrame;
use crate::field::Covered;

/// The wall above the skin, in which an opening goes straight up from it along the normals of its fair copy.
#[derive(Debug)]
pub struct Lift {
    covered: Arc<Covered>,
    /// Height of the middle of the wall and of the outer face over the skin, mm.
    middle_mm: f32,
    outer_mm: f32,
}

/// Where the skin itself is so hollow, the hollow is no ripple and counts as it is.
const HOLLOW: f32 = 0.8;

impl Lift {
    /// The wall whose faces are this high above the skin; `edge_mm` is the distance of each vertex to the trim line,
    /// positive inside.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn new(skin: &Surface, edge_mm: &[f32], inner_mm: f32, outer_mm: f32, job: &Job) -> Result<Self, Cancelled> {
        let middle_mm = 0.5 * (inner_mm + outer_mm);
        Ok(Self { covered: Covered::of(skin, edge_mm, job)?, middle_mm, outer_mm })
    }

    /// Height of the middle of the wall over the skin, mm, and the ways up to it at each vertex.
    pub fn middle(&self) -> (f32, &[Vector3<f32>]) {
        (self.middle_mm, &self.covered.even)
    }

    /// The scale of lengths from `from` to `to` at the outer face, below 1 in a hollow.
    pub fn stretch(&self, skin: &Surface, from: &TangentFrame, to: &TangentFrame) -> f32 {
        let own = self.by(&self.covered.own, self.outer_mm, skin, from, to);
        if own < HOLLOW { own } else { self.by(&self.covered.even, self.outer_mm, skin, from, to) }
    }

    /// The way over the skin from `from` to `to`, as it is in the middle of the wall where the skin bulges. Holes have
    /// their own size all through the wall, so what is left of it is the wall between them.
    pub fn way(&self, skin: &Surface, from: &TangentFrame, to: &TangentFrame) -> [f32; 2] {
        let flat = from.log_map(to);
        let [up, other_up] = [from, to].map(|frame| Self::up(&self.covered.even, skin, frame));
        let turn = (other_up - up) * self.middle_mm;
        let more = [turn.dot(&from.around), turn.dot(&from.along)];
        if more[0] * flat[0] + more[1] * flat[1] > 0.0 { [flat[0] + more[0], flat[1] + more[1]] } else { flat }
    }

    fn up(normals: &[Vector3<f32>], skin: &Surface, frame: &TangentFrame) -> Vector3<f32> {
        let corners = skin.mesh().triangles[frame.hit.triangle as usize];
        let sum: Vector3<f32> = corners.iter().zip(frame.hit.weights).map(|(v, w)| normals[*v as usize] * w).sum();
        sum.try_normalize(1e-6).unwrap_or(frame.normal)
    }

    fn by(
        &self,
        normals: &[Vector3<f32>],
        height_mm: f32,
        skin: &Surface,
        from: &TangentFrame,
        to: &TangentFrame,
    ) -> f32 {
        let chord = to.point() - from.point();
        let [up, other_up] = [from, to].map(|frame| Self::up(normals, skin, frame));
        let lifted = chord + (other_up - up) * height_mm;
        let length = chord.norm();
        // A lifted chord that runs backwards is a fold, not a wide place.
        if length < 1e-6 { 1.0 } else { lifted.dot(&chord) / (length * length) }
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use nalgebra::Point3;

    use super::*;
    use crate::sample_skins::cylinder;

    #[test]
    fn round_a_tube_lengths_grow_with_the_radius_and_along_it_they_stay() {
        let skin = cylinder(40.0, 60.0, 1.5);
        let inside = vec![10.0; skin.mesh().points.len()];
        let lift = Lift::new(&skin, &inside, 2.0, 6.0, &Job::silent()).unwrap();
        let at = |turn: f32, z: f32| {
            let p = Point3::new(40.0 * turn.cos(), 40.0 * turn.sin(), z);
            TangentFrame::new(&skin, skin.nearest(&p, None).unwrap())
        };
        assert_relative_eq!(lift.stretch(&skin, &at(0.0, 0.0), &at(0.2, 0.0)), 46.0 / 40.0, epsilon = 0.01);
        assert_relative_eq!(lift.stretch(&skin, &at(0.0, 0.0), &at(0.0, 8.0)), 1.0, epsilon = 0.01);
        // 0.2 radians are 8 mm on the skin and 8.8 mm 4 mm above it.
        let [u, v] = lift.way(&skin, &at(0.0, 0.0), &at(0.2, 0.0));
        assert_relative_eq!(u.hypot(v), 8.8, epsilon = 0.05);
        // Askew only what runs round the tube gets longer.
        let [u, v] = lift.way(&skin, &at(0.0, 0.0), &at(0.2, 8.0));
        assert_relative_eq!(u.abs(), 8.8, epsilon = 0.06);
        assert_relative_eq!(v.abs(), 8.0, epsilon = 0.06);
    }
}
