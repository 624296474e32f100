//! Views of a finished shell: its clearance, and a turn to show the athlete.

use fit::Clearance;
use mesh::{Job, Mesh, Surface};
use print::picture::{Guard, Turntable, gif};

use crate::EngineError;

/// How far a shell stands off the skin; see [`fit::clearance`].
///
/// # Errors
/// No skin, a broken shell, or the work was stopped.
pub fn clearance(skin: &Surface, shell: &Mesh, job: &Job) -> Result<Clearance, EngineError> {
    Ok(fit::clearance(skin, shell, job)?)
}

/// A slow turn of the guard as an animated GIF; see [`print::picture::gif`].
///
/// # Errors
/// Nothing to draw, settings out of range, or the work was stopped.
pub fn turntable<'a>(
    limb: &'a Mesh,
    guard: impl Into<Guard<'a>>,
    turn: &Turntable,
    job: &Job,
) -> Result<Vec<u8>, EngineError> {
    Ok(gif(limb, guard, turn, job)?)
}
