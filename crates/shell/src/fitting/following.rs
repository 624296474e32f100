//! Slots that follow: where the program places straps, it places them anew for each zone, strap, wall and rim.

use mesh::{Job, Surface};
use zone::Zone;

use super::suggest::{levels_by_length, suggest_straps};
use crate::{Design, Fitting, FittingKind, Layout, ShellError};

/// All fittings of a design, each with its number there: the slots that follow where they belong on this zone, the others
/// as they are. Of more slots than follow in the design the last have numbers after all of its own.
///
/// # Errors
/// Only that it was stopped.
pub fn fittings_in_place(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: &mut Layout,
    job: &Job,
) -> Result<Vec<(usize, Fitting)>, ShellError> {
    let (following, mut all): (Vec<_>, Vec<_>) =
        design.fittings.iter().cloned().enumerate().partition(|(_, fitting)| fitting.is_following());
    let strap_mm = following.iter().find_map(|(_, fitting)| match fitting.kind {
        FittingKind::StrapSlot { strap_mm, .. } => Some(strap_mm),
        _ => None,
    });
    let Some(strap_mm) = strap_mm else { return Ok(all) };
    let wanted = levels_by_length(skin, zone, job)?;
    let placed = suggest_straps(skin, zone, design, strap_mm, wanted, job)?;
    if placed.len() < 2 * wanted {
        layout.notices.push(format!(
            "The zone has room for {} of {} slots for {strap_mm} mm straps that hold {} N: take a narrower strap or less \
             pull, or place the others by hand.",
            placed.len(),
            2 * wanted,
            design.strap_pull_n
        ));
    }
    let numbers = following.iter().map(|(number, _)| *number).chain(design.fittings.len()..);
    let opening = following.iter().find_map(|(_, fitting)| match fitting.kind {
        FittingKind::StrapSlot { opening_mm, .. } => Some(opening_mm),
        _ => None,
    });
    all.extend(numbers.zip(placed).map(|(number, mut slot)| {
        if let (FittingKind::StrapSlot { opening_mm, .. }, Some(set_mm)) = (&mut slot.kind, opening) {
            *opening_mm = set_mm;
        }
        (number, Fitting { follows: true, ..slot })
    }));
    all.sort_by_key(|(number, _)| *number);
    Ok(all)
}
