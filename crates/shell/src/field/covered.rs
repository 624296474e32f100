//! What is made of the skin under a zone once, for all shells on it.

use std::hash::{DefaultHasher, Hasher};
use std::sync::Arc;

use mesh::{Cancelled, Job, Surface};
use nalgebra::Vector3;

use super::hollows::filled;
use super::lift::Room;
use super::near::Near;
use super::outer_face::above_fair;
use super::smooth_normals::{averaged, smooth_normals};
use crate::profile::smooth_step;

/// Reach of the quadrics through the skin over which the outer face stands, mm: waves of the skin shorter than about this
/// are not seen on it.
pub(crate) const FAIR_REACH_MM: f32 = 38.0;
/// Cosines of the angles, 24 and 12 degrees, from which normals of skin and fair copy are not and are taken for alike.
const ALIKE: [f32; 2] = [0.914, 0.978];

/// The skin under a zone and round it.
#[derive(Debug)]
pub(crate) struct Covered {
    pub(super) near: Near,
    /// The skin without its short waves and narrow hollows, over which the outer face stands.
    pub(super) fair: Arc<Surface>,
    /// How far the skin reaches above that at most near each vertex, mm.
    pub(super) above_fair_mm: Vec<f32>,
    /// How far the two lie apart at most, mm.
    pub(super) fair_off_mm: f32,
    /// Normals of the skin at its vertices, averaged over a few millimetres.
    pub(crate) own: Vec<Vector3<f32>>,
    /// Directions in which the wall is built up over the vertices: the normals of the fair copy, and `own` where the two
    /// differ by more than the ripples of skin do, as on a finger. Between the two they are averaged, so that they do not
    /// cross above the skin.
    pub(crate) even: Vec<Vector3<f32>>,
    /// How hollow the skin is at each vertex near the zone, 1/mm; negative where it bulges both ways, and 0 elsewhere.
    pub(super) hollow_per_mm: Vec<f32>,
    /// The room that the lift of the rim has.
    pub(super) room: Room,
}

impl Covered {
    /// The skin under the zone whose trim line is this far from each vertex, positive inside, mm. It is kept with the
    /// surface: a wall that is made thicker stands on the same.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub(crate) fn of(skin: &Surface, edge_mm: &[f32], job: &Job) -> Result<Arc<Self>, Cancelled> {
        let mut number = DefaultHasher::new();
        edge_mm.iter().for_each(|mm| number.write_u32(mm.to_bits()));
        skin.kept(number.finish(), || Self::new(skin, edge_mm, job))
    }

    fn new(skin: &Surface, edge_mm: &[f32], job: &Job) -> Result<Self, Cancelled> {
        let near = Near::find(skin, edge_mm);
        let fair = filled(skin.fair(FAIR_REACH_MM, job)?, &near, job)?;
        let own = smooth_normals(skin, &near, job)?;
        let blend = |(own, fair): (&Vector3<f32>, &Vector3<f32>)| {
            let trust = smooth_step((own.dot(fair) - ALIKE[0]) / (ALIKE[1] - ALIKE[0]));
            own.lerp(fair, trust).try_normalize(1e-6).unwrap_or(*own)
        };
        let even = averaged(own.iter().zip(fair.vertex_normals()).map(blend).collect(), &near, job)?;
        let off = |v: &u32| (skin.mesh().points[*v as usize] - fair.mesh().points[*v as usize]).norm();
        let fair_off_mm = near.vertices.iter().map(off).fold(0.0, f32::max);
        let above_fair_mm = above_fair(skin, &fair, &near, job)?;
        let room = Room::new(skin, &near, edge_mm, &even, job)?;
        let mut hollow_per_mm = vec![0.0; skin.mesh().points.len()];
        near.vertices.iter().zip(&room.hollow_per_mm).for_each(|(v, hollow)| hollow_per_mm[*v as usize] = *hollow);
        Ok(Self { near, fair, above_fair_mm, fair_off_mm, own, even, hollow_per_mm, room })
    }
}
