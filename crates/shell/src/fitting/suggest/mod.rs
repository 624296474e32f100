//! Suggested places for straps and a number, composed on the drawing board.

mod mark;
mod straps;

use mesh::Cancelled;

pub use self::mark::suggest_mark;
pub use self::straps::suggest_straps;
use crate::ShellError;

/// Suggested things leave this much more room than they need, so that small changes of the design keep them, mm.
const SPARE_MM: f32 = 1.0;

/// Whether something was placed; only a cancel is an error.
fn fits(placed: Result<(), ShellError>) -> Result<bool, Cancelled> {
    match placed {
        Ok(()) => Ok(true),
        Err(ShellError::Cancelled(stop)) => Err(stop),
        Err(ShellError::CannotBuild { .. }) => Ok(false),
    }
}
