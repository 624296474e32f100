//! What is looked at once a shell is there: its clearance, cuts through it, and its turn for the athlete.

use fit::{Clearance, Section};
use mesh::{Job, Mesh, Surface};
use nalgebra::{Point3, Vector3};
use print::picture::{Turntable, gif};

use crate::EngineError;

/// How far a shell stands off the skin; see [`fit::clearance`].
///
/// # Errors
/// No skin, a broken shell, or the work was stopped.
pub fn clearance(skin: &Surface, shell: &Mesh, job: &Job) -> Result<Clearance, EngineError> {
    Ok(fit::clearance(skin, shell, job)?)
}

/// Where the plane through `point` along `normal` cuts a limb or shell; see [`fit::section`].
///
/// # Errors
/// A plane without direction or a broken mesh.
pub fn section(mesh: &Mesh, point: &Point3<f32>, normal: &Vector3<f32>) -> Result<Section, EngineError> {
    Ok(fit::section(mesh, point, normal)?)
}

/// A slow turn of the guard as an animated GIF; see [`print::picture::gif`].
///
/// # Errors
/// Nothing to draw, settings out of range, or the work was stopped.
pub fn turntable(limb: &Mesh, shell: &Mesh, turn: &Turntable, job: &Job) -> Result<Vec<u8>, EngineError> {
    Ok(gif(limb, shell, turn, job)?)
}
