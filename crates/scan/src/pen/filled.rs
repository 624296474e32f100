//! Which vertices of a cleaned limb fill a hole.

use mesh::{Cancelled, Job, Mesh};

use crate::Limb;
use crate::scanned::ScannedSurface;

/// Skin farther than this from the scanned surface was added to fill a hole, mm. Smoothing moves skin less.
const FILLED_MM: f64 = 1.5;

/// For each vertex of a cleaned limb, whether it fills a hole of `scan`, the surface as it came from the file.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub fn filled_vertices(limb: &Limb, scan: &Mesh, job: &Job) -> Result<Vec<bool>, Cancelled> {
    let scanned = ScannedSurface::new(scan, &limb.mesh, &limb.placement, job)?;
    let far = (FILLED_MM / limb.placement.unit_mm) as f32;
    job.each_with(limb.mesh.points.len(), |seed, v| {
        let p = limb.placement.scan_from_limb(&limb.mesh.points[v].cast()).cast();
        scanned.nearest(&p, seed).is_none_or(|hit| hit.distance2 > far * far)
    })
}
