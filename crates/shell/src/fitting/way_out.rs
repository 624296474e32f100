//! What would have room instead of a fitting or mark that has none: found by trying, so that it holds.

use mesh::{Cancelled, Place};
use nalgebra::Point3;

use super::outline::{CHART_MARGIN_MM, place_checked};
use super::placement::Workpiece;
use crate::design_check::down;
use crate::limits::{self, STRAP_WIDTHS_MM};
use crate::{Fitting, FittingKind, Layout, ShellError};

/// How far away another place is looked for, mm, nearest first.
const AWAY_MM: [f32; 8] = [1.0, 2.0, 3.0, 4.0, 6.0, 9.0, 12.0, 15.0];
/// In how many directions.
const DIRECTIONS: usize = 12;
/// Larger things are not looked for another place: each try goes over too much of the skin, mm from their middle.
const FARTHEST_REACH_MM: f32 = 75.0;
/// Sizes are first tried in steps of this many millimetres, then in steps of one between the last two.
const COARSE: u32 = 8;

/// The refusal of a fitting with a way out that has room: a smaller one at its place, or the same one near by.
///
/// # Errors
/// [`Cancelled`] on request.
pub(super) fn told(
    workpiece: &Workpiece<'_>,
    layout: &mut Layout,
    number: usize,
    fitting: &Fitting,
    refusal: ShellError,
) -> Result<ShellError, Cancelled> {
    let ShellError::CannotBuild { setting, place, what, cure } = refusal else { return Ok(refusal) };
    let workpiece = &Workpiece { only_asked: true, ..*workpiece };
    // Outside of the zone nothing has room, however small.
    let inside = workpiece.nearest(&fitting.at_mm).is_some_and(|hit| workpiece.edge_mm(&hit) > 0.0);
    let smaller = if inside { smaller(workpiece, layout, number, fitting)? } else { None };
    let elsewhere = elsewhere(workpiece, &fitting.at_mm, reach_mm(&fitting.kind), |at_mm| {
        has_room(workpiece, layout, number, &Fitting { at_mm, ..fitting.clone() })
    })?;
    let cure = sentence(smaller, elsewhere).unwrap_or(cure);
    Ok(ShellError::CannotBuild { setting, place, what, cure })
}

/// Whether a fitting has room; nothing is placed.
pub(super) fn has_room(
    workpiece: &Workpiece<'_>,
    layout: &mut Layout,
    number: usize,
    fitting: &Fitting,
) -> Result<bool, Cancelled> {
    let before = (layout.openings.len(), layout.embosses.len());
    let fits = succeeded(place_checked(workpiece, layout, number, fitting))?;
    layout.openings.truncate(before.0);
    layout.embosses.truncate(before.1);
    Ok(fits)
}

/// Whether something was placed; only a cancel is an error.
pub(super) fn succeeded<T>(placed: Result<T, ShellError>) -> Result<bool, Cancelled> {
    match placed {
        Ok(_) => Ok(true),
        Err(ShellError::Cancelled(stop)) => Err(stop),
        Err(ShellError::CannotBuild { .. }) => Ok(false),
    }
}

/// The largest smaller one that has room at the same place, as a clause.
fn smaller(
    workpiece: &Workpiece<'_>,
    layout: &mut Layout,
    number: usize,
    fitting: &Fitting,
) -> Result<Option<String>, Cancelled> {
    let mut fits = |kind: FittingKind| has_room(workpiece, layout, number, &Fitting { kind, ..fitting.clone() });
    Ok(match fitting.kind {
        FittingKind::StrapSlot { strap_mm, opening_mm } => {
            let strap = |mm: u32| FittingKind::StrapSlot { strap_mm: mm as f32, opening_mm };
            let widest = largest(below(strap_mm), limits::STRAP.least as u32, |mm| fits(strap(mm)))?;
            let [narrow, _, wide] = STRAP_WIDTHS_MM;
            widest.map(|mm| {
                let rare = if (mm as f32) < narrow {
                    format!(" (usual ones are {narrow} to {wide} mm)")
                } else {
                    String::new()
                };
                format!("Straps up to {mm} mm{rare} have room at this place")
            })
        }
        FittingKind::LaceHoles { count, hole_mm, pitch_mm } => {
            let row = |count: u32| FittingKind::LaceHoles { count, hole_mm, pitch_mm };
            let most = largest(count.saturating_sub(1), 1, |count| fits(row(count)))?;
            most.map(|count| format!("Rows of up to {count} of these holes have room at this place"))
        }
        FittingKind::TieSlot { tie_mm, bridge_mm } => {
            let tie = |mm: u32| FittingKind::TieSlot { tie_mm: mm as f32, bridge_mm };
            let widest = largest(below(tie_mm), limits::TIE.least as u32, |mm| fits(tie(mm)))?;
            widest.map(|mm| format!("Ties up to {mm} mm have room at this place"))
        }
        FittingKind::HookAndLoopSeat { length_mm, width_mm, depth_mm } => {
            let seat = |length_mm: f32, width_mm: f32| FittingKind::HookAndLoopSeat { length_mm, width_mm, depth_mm };
            let least = limits::SEAT_LENGTH.least as u32;
            let longest = largest(below(length_mm), least, |mm| fits(seat(mm as f32, width_mm)))?;
            let least = limits::SEAT_WIDTH.least as u32;
            match longest {
                Some(mm) => Some(format!("Seats up to {mm} mm long have room at this place")),
                None => largest(below(width_mm), least, |mm| fits(seat(length_mm, mm as f32)))?
                    .map(|mm| format!("Seats up to {mm} mm wide have room at this place")),
            }
        }
        FittingKind::StitchHoles { .. } => None,
    })
}

/// The greatest whole number below a size.
fn below(size: f32) -> u32 {
    (size.ceil() as u32).saturating_sub(1)
}

/// The largest number from `most` down to `least` that fits, as far as those that fit are all below those that do not.
pub(super) fn largest(
    most: u32,
    least: u32,
    mut fits: impl FnMut(u32) -> Result<bool, Cancelled>,
) -> Result<Option<u32>, Cancelled> {
    let mut above = most;
    let mut n = most;
    while n >= least {
        if fits(n)? {
            for finer in (n + 1..above).rev() {
                if fits(finer)? {
                    return Ok(Some(finer));
                }
            }
            return Ok(Some(n));
        }
        if n == least {
            break;
        }
        above = n;
        n = n.saturating_sub(COARSE).max(least);
    }
    Ok(None)
}

/// From the middle of a fitting to its farthest point, mm, without clearances.
fn reach_mm(kind: &FittingKind) -> f32 {
    match kind {
        FittingKind::StrapSlot { strap_mm, .. } => 0.5 * strap_mm,
        FittingKind::LaceHoles { count, pitch_mm, .. } => 0.5 * *count as f32 * pitch_mm,
        FittingKind::TieSlot { tie_mm, bridge_mm } => 0.5 * tie_mm.hypot(*bridge_mm),
        FittingKind::HookAndLoopSeat { length_mm, width_mm, .. } => 0.5 * length_mm.hypot(*width_mm),
        FittingKind::StitchHoles { .. } => 0.0,
    }
}

/// The nearest place round `at_mm` that has room for a thing of this reach, in tenths of a millimetre as it is told, and how far away it is.
pub(super) fn elsewhere(
    workpiece: &Workpiece<'_>,
    at_mm: &Point3<f32>,
    reach_mm: f32,
    mut has_room: impl FnMut(Point3<f32>) -> Result<bool, Cancelled>,
) -> Result<Option<(f32, Point3<f32>)>, Cancelled> {
    let Some(here) = workpiece.nearest(at_mm).filter(|_| reach_mm <= FARTHEST_REACH_MM) else { return Ok(None) };
    let chart = workpiece.chart(&here, 0.0, AWAY_MM[AWAY_MM.len() - 1] + CHART_MARGIN_MM)?;
    for away in AWAY_MM {
        for k in 0..DIRECTIONS {
            let (sin, cos) = (std::f32::consts::TAU * k as f32 / DIRECTIONS as f32).sin_cos();
            let Some(hit) = chart.skin_point(workpiece.skin, [away * cos, away * sin]) else { continue };
            let told = hit.point.map(|x| (x * 10.0).round() / 10.0);
            if workpiece.edge_mm(&hit) > 0.0 && has_room(told)? {
                return Ok(Some((away, told)));
            }
        }
    }
    Ok(None)
}

/// What has room, in words; nothing where nothing was found.
pub(super) fn sentence(smaller: Option<String>, elsewhere: Option<(f32, Point3<f32>)>) -> Option<String> {
    let away =
        |(away, at): &(f32, Point3<f32>)| format!("has room {} mm away, at {:#} mm", down(*away), Place::new(at, 1));
    match (smaller, elsewhere.as_ref().map(away)) {
        (Some(smaller), Some(away)) => Some(format!("{smaller}; as it is, it {away}.")),
        (Some(smaller), None) => Some(format!("{smaller}; as it is, move it further or turn it.")),
        (None, Some(away)) => Some(format!("It {away}.")),
        (None, None) => None,
    }
}
