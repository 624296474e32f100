//! How lengths on the skin change on the outer face above it.

use mesh::{Cancelled, Job, Surface};
use nalgebra::Vector3;

use super::tangent_frame::TangentFrame;
use crate::field::{even_normals, own_normals};

/// The outer face above the skin, in which an opening goes straight up from it along the normals of its fair copy.
#[derive(Debug)]
pub struct Lift {
    /// Of the fair copy.
    normals: Vec<Vector3<f32>>,
    /// Of the skin itself, evened over a few millimetres.
    own: Vec<Vector3<f32>>,
    height_mm: f32,
}

/// Where the skin itself is so hollow, the hollow is no ripple and counts as it is.
const HOLLOW: f32 = 0.8;

impl Lift {
    /// The face `height_mm` above the skin; `edge_mm` is the distance of each vertex to the trim line, positive inside.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn new(skin: &Surface, edge_mm: &[f32], height_mm: f32, job: &Job) -> Result<Self, Cancelled> {
        let own = own_normals(skin, edge_mm, job)?;
        Ok(Self { normals: even_normals(skin, &own, job)?, own, height_mm })
    }

    /// The scale of lengths from `from` to `to`, below 1 in a hollow.
    pub fn stretch(&self, skin: &Surface, from: &TangentFrame, to: &TangentFrame) -> f32 {
        let own = self.by(&self.own, skin, from, to);
        if own < HOLLOW { own } else { self.by(&self.normals, skin, from, to) }
    }

    fn by(&self, normals: &[Vector3<f32>], skin: &Surface, from: &TangentFrame, to: &TangentFrame) -> f32 {
        let chord = to.point() - from.point();
        let [up, other_up] = [from, to].map(|frame| {
            let corners = skin.mesh().triangles[frame.hit.triangle as usize];
            let sum: Vector3<f32> = corners.iter().zip(frame.hit.weights).map(|(v, w)| normals[*v as usize] * w).sum();
            sum.try_normalize(1e-6).unwrap_or(frame.normal)
        });
        let lifted = chord + (other_up - up) * self.height_mm;
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
        let lift = Lift::new(&skin, &inside, 6.0, &Job::silent()).unwrap();
        let at = |turn: f32, z: f32| {
            let p = Point3::new(40.0 * turn.cos(), 40.0 * turn.sin(), z);
            TangentFrame::new(&skin, skin.nearest(&p, None).unwrap())
        };
        assert_relative_eq!(lift.stretch(&skin, &at(0.0, 0.0), &at(0.2, 0.0)), 46.0 / 40.0, epsilon = 0.01);
        assert_relative_eq!(lift.stretch(&skin, &at(0.0, 0.0), &at(0.0, 8.0)), 1.0, epsilon = 0.01);
    }
}
