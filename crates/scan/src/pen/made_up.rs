//! Which vertices of a cleaned limb were never scanned.

use mesh::{Bvh, Mesh};
use rayon::prelude::*;

use crate::Limb;

/// Skin farther from all that was scanned was put there to fill a hole, mm. Taking noise off moves skin less.
const MADE_UP_MM: f64 = 1.5;

/// For each vertex of a cleaned limb, whether it was made up to fill a hole of `scan`, the surface as it came from the file.
#[must_use]
pub fn made_up_vertices(limb: &Limb, scan: &Mesh) -> Vec<bool> {
    let index = Bvh::new(scan);
    let far = (MADE_UP_MM / limb.placement.unit_mm) as f32;
    limb.mesh
        .points
        .par_iter()
        .map(|p| {
            let p = limb.placement.scan_from_limb(&p.cast()).cast();
            index.nearest(&p, None).is_none_or(|hit| hit.distance2 > far * far)
        })
        .collect()
}
