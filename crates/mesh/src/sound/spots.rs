//! The thickness of the material, ray by ray.

use nalgebra::Point3;

use super::SoundLimits;
use super::edges::sure_normal;
use super::pieces::{CLOSE_MM, Cutting, Piece};
use crate::{Bvh, Cancelled, Job, Mesh, SpatialHash};

/// Thickness is first measured once in about a square millimetre. Where that is nowhere less than the limit times
/// this, the wall is taken to be thick enough in between as well.
const WELL_ABOVE: f64 = 1.25;
/// Where more of the surface is thin, times the share that may be, it is not looked at more closely: there is no doubt.
const NO_DOUBT: f64 = 10.0;

/// A spot of the surface that was measured.
#[derive(Debug, Clone, Copy)]
pub struct Spot {
    pub at: Point3<f32>,
    /// Thickness of the material under it, mm; infinite where a ray does not come out again.
    pub thickness_mm: f64,
    /// Surface that it stands for, mm².
    pub area_mm2: f64,
}

/// The spots of a mesh: from a place on each piece of the surface a ray goes inward along the reverse normal, and how far
/// it goes until it leaves the material is the thickness there. It goes to nothing where two faces meet at less than a
/// right angle; along a rounded edge it does not. Round thin spots the surface is measured again in smaller pieces, so
/// that what is reported of them does not hang on where one ray met them.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub fn spots(
    mesh: &Mesh,
    tree: &Bvh,
    cutting: &Cutting<'_>,
    pieces: &[Piece],
    limits: &SoundLimits,
    job: &Job,
) -> Result<Vec<Spot>, Cancelled> {
    let limit_mm = limits.thin_mm.max(limits.least_mm);
    let some = measured(mesh, tree, &cutting.sparse(pieces), job)?;
    if some.iter().all(|spot| spot.thickness_mm >= WELL_ABOVE * limit_mm) {
        return Ok(some);
    }
    let first = measured(mesh, tree, pieces, job)?;
    let is_thin = |spot: &&Spot| spot.thickness_mm < limit_mm;
    let area = |spots: &mut dyn Iterator<Item = &Spot>| spots.fold(0.0, |sum, spot| sum + spot.area_mm2);
    let thin_area = area(&mut first.iter().filter(is_thin));
    if thin_area == 0.0 || thin_area > NO_DOUBT * limits.thin_share * area(&mut first.iter()) {
        return Ok(first);
    }
    job.check()?;
    let close = SpatialHash::of(CLOSE_MM, first.iter().filter(is_thin).map(|spot| spot.at));
    let near = job.each(first.len(), |i| !close.within(&first[i].at, CLOSE_MM).is_empty())?;
    let mut again = vec![false; mesh.triangles.len()];
    for (piece, near) in pieces.iter().zip(near) {
        again[piece.triangle as usize] |= near;
    }
    let triangles = (0..mesh.triangles.len()).filter(|t| again[*t]).collect();
    let closer = measured(mesh, tree, &cutting.pieces_of(triangles, &close, job)?, job)?;
    let kept = first.iter().zip(pieces).filter(|(_, piece)| !again[piece.triangle as usize]);
    Ok(kept.map(|(spot, _)| *spot).chain(closer).collect())
}

fn measured(mesh: &Mesh, tree: &Bvh, pieces: &[Piece], job: &Job) -> Result<Vec<Spot>, Cancelled> {
    let thickness = |piece: &Piece| {
        let inward = -sure_normal(mesh, piece.triangle as usize)?.cast::<f32>();
        tree.exit(&piece.place, &inward, f32::MAX).map(|hit| f64::from(hit.distance2).sqrt())
    };
    let thickness = job.each(pieces.len(), |i| thickness(&pieces[i]).unwrap_or(f64::INFINITY))?;
    let spot = |(piece, thickness_mm): (&Piece, f64)| Spot { at: piece.place, thickness_mm, area_mm2: piece.area_mm2 };
    Ok(pieces.iter().zip(thickness).map(spot).collect())
}
