//! Places that the limb itself gives: bony points, found by how the skin curves, and creases, across which a joint folds.
//!
//! A bony point is a smooth bulge of 8 to 25 mm radius that stands out of the limb's form, as an ankle bone, the head of
//! the ulna or a knuckle does. What is compared is how the skin curves within 14 mm and within 40 mm, by the quadrics of
//! [`mesh::Quadrics`]: over a bone it bulges both ways, and more than the limb does. An edge of bone under the skin, as
//! that of the shin, runs straight one way and is no point; nor are finger tips, which nothing goes on round.
//!
//! What is not promised: that it is bone. A pad of flesh as small and as steep is found too, which is why they are only
//! offered. A bone that lifts the skin by less than a millimetre over a straight edge is not found, nor one nearer than
//! 12 mm to the end of the scan.

mod bony;
mod crease;
mod sites;
mod tops;

use mesh::{Hit, Surface};

use crate::Region;

pub use bony::{BonyPoint, bony_points};
pub use crease::{Crease, NEAR_END_MM, TooNear, crease_region, near_open_end};

/// How deep a skin point lies in a region, mm; far outside one that was measured on another skin.
fn depth_mm(skin: &Surface, region: &Region, hit: &Hit) -> f32 {
    if region.distance_mm.len() == skin.mesh().points.len() {
        skin.interpolate(&region.distance_mm, hit)
    } else {
        f32::NEG_INFINITY
    }
}
