//! How lengths on the skin change on the outer face above it.

use std::sync::Arc;

use mesh::{Cancelled, Job, Surface};

use super::tangent_frame::TangentFrame;
use crate::field::FAIR_REACH_MM;

/// The outer face above the skin. It stands over the fair copy of the skin, so the pores and veins of the skin itself do
/// not count.
#[derive(Debug)]
pub struct Lift {
    fair: Arc<Surface>,
    height_mm: f32,
}

impl Lift {
    /// The face `height_mm` above the skin.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn new(skin: &Surface, height_mm: f32, job: &Job) -> Result<Self, Cancelled> {
        Ok(Self { fair: skin.fair(FAIR_REACH_MM, job)?, height_mm })
    }

    /// The scale of lengths from `from` to `to`, below 1 in a hollow.
    pub fn stretch(&self, from: &TangentFrame, to: &TangentFrame) -> f32 {
        let chord = to.point() - from.point();
        let [up, other_up] = [from, to].map(|frame| self.fair.normal_at(&frame.hit));
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
        let lift = Lift::new(&skin, 6.0, &Job::silent()).unwrap();
        let at = |turn: f32, z: f32| {
            let p = Point3::new(40.0 * turn.cos(), 40.0 * turn.sin(), z);
            TangentFrame::new(&skin, skin.nearest(&p, None).unwrap())
        };
        assert_relative_eq!(lift.stretch(&at(0.0, 0.0), &at(0.2, 0.0)), 46.0 / 40.0, epsilon = 0.01);
        assert_relative_eq!(lift.stretch(&at(0.0, 0.0), &at(0.0, 8.0)), 1.0, epsilon = 0.01);
    }
}
