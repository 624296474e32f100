//! The surface made fit for printing: simplified within a tolerance, checked to be a solid, and measured for soundness.

use mesh::solid::{self, SolidReport};
use mesh::sound::{SoundLimits, SoundReport, sound_and_faulty};
use mesh::{Cancelled, Job, Mesh, SpatialHash, simplify};
use nalgebra::Point3;
use rayon::prelude::*;

use crate::ShellError;

/// Rounds of simplifying with the neighbourhood of crossings kept before all triangles are kept.
const ROUNDS: usize = 3;
/// Vertices this near to a crossing are kept, mm.
const LOCKED_MM: f32 = 2.0;
/// Steps of the grid on which points lie, in 1 mm.
const STEPS_PER_MM: f32 = 16384.0;
/// Points between two checks for cancellation.
const POINTS_A_LOOK: usize = 4096;

/// Points snapped to a grid of 1/16384 mm. Within a metre of the origin `f32` holds these exactly, so the shell can be
/// moved by such steps, as onto a printer's bed, without rounding again: what was proven here is what is written there.
pub(super) fn snapped(mut mesh: Mesh) -> Mesh {
    mesh.points.par_iter_mut().for_each(|p| p.coords.apply(|x| *x = (*x * STEPS_PER_MM).round() / STEPS_PER_MM));
    mesh
}

/// A solid, and how sound it is.
pub(super) struct Measured {
    pub(super) mesh: Mesh,
    pub(super) proof: SolidReport,
    pub(super) sound: SoundReport,
    /// Where it is not sound.
    pub(super) faulty: Vec<Point3<f32>>,
}

/// What is wrong with a mesh as a solid, and if nothing is, how sound it is.
fn measured(mesh: Mesh, job: &Job) -> Result<Result<Measured, (Mesh, SolidReport)>, Cancelled> {
    // Side by side, as parts of each keep one thread only busy.
    let (proof, sound) =
        rayon::join(|| solid::check(&mesh, job), || sound_and_faulty(&mesh, &SoundLimits::default(), job));
    let (proof, (sound, faulty)) = (proof?, sound?);
    Ok(if proof.is_solid() { Ok(Measured { mesh, proof, sound, faulty }) } else { Err((mesh, proof)) })
}

/// Simplifies within the tolerance and measures the result; where triangles cross, their neighbourhood is kept
/// unsimplified and it is tried again, and at last every triangle is kept.
pub(super) fn simplify_and_prove(whole: &Mesh, tolerance_mm: f32, job: &Job) -> Result<Measured, ShellError> {
    let mut locked = vec![false; whole.points.len()];
    let mut report = None;
    for round in 0..ROUNDS {
        if tolerance_mm <= 0.0 {
            break;
        }
        job.step("simplifying", 0.2 * round as f32)?;
        let simpler = snapped(simplify::simplify(whole, tolerance_mm, &locked, job)?.mesh);
        job.step("proving the solid", 0.2 * round as f32 + 0.1)?;
        let (simpler, proof) = match measured(simpler, job)? {
            Ok(measured) => return Ok(measured),
            Err(faulty) => faulty,
        };
        let mut centres: Vec<Point3<f32>> = solid::self_intersections(&simpler, job)?
            .pairs
            .iter()
            .flatten()
            .flat_map(|t| simpler.corners(*t as usize))
            .collect();
        centres.extend(&proof.places);
        report = Some(proof);
        lock_near(&mut locked, whole, centres, job)?;
    }
    job.step("proving the solid", 0.7)?;
    let (_, proof) = match measured(whole.clone(), job)? {
        Ok(measured) => return Ok(measured),
        Err(faulty) => faulty,
    };
    let place = proof.places.first().or(report.as_ref().and_then(|r| r.places.first())).copied().unwrap_or_default();
    Err(ShellError::CannotBuild {
        setting: "resolution_mm".into(),
        place,
        what: format!("the surface made is not a printable solid: {}", proof.faults().join("; ")),
        cure: "Set a finer resolution, or smooth the zone there.".into(),
    })
}

/// Locks the vertices within [`LOCKED_MM`] of any of these points.
fn lock_near(locked: &mut [bool], whole: &Mesh, centres: Vec<Point3<f32>>, job: &Job) -> Result<(), Cancelled> {
    let near = SpatialHash::of(LOCKED_MM, centres);
    locked.par_chunks_mut(POINTS_A_LOOK).zip(whole.points.par_chunks(POINTS_A_LOOK)).try_for_each(|(locked, points)| {
        job.check()?;
        for (lock, p) in locked.iter_mut().zip(points) {
            *lock = *lock || !near.within(p, LOCKED_MM).is_empty();
        }
        Ok(())
    })
}
