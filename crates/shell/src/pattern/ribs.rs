//! Ribs: middle lines on the skin, clear of the rim, fittings and marks.

mod branching;
mod clip;
mod rows;
#[cfg(test)]
mod tests;

use mesh::geodesic::{LineError, SkinLine, distance_to_lines};
use mesh::{Job, Surface};
use nalgebra::Point3;
use zone::Zone;

use self::rows::Direction;
use super::room::Room;
use super::tangent::Spot;
use super::vents::innermost;
use crate::design_check::check_ribs;
use crate::{Design, Layout, RibLayout, Ribs, ShellError, Source};

/// Wall between the foot of a rib and a fitting or mark, mm: the face round a slot stays flat for its strap.
pub const RIB_FITTING_WALL_MM: f32 = 2.0;

/// Beyond the rounding of the rim and half the flare, a rib's foot ends this far from the rim, mm.
pub const RIB_RIM_WALL_MM: f32 = 1.0;

/// Parts of ribs shorter than this many widths are left out: bumps, not ribs.
const LEAST_LENGTH_WIDTHS: f32 = 2.0;

/// Distances from ribs are told this far beyond the rib's width, mm.
const DISTANCE_REACH_MM: f32 = 6.0;

/// What ribs are laid out on.
struct Ground<'a> {
    skin: &'a Surface,
    ribs: &'a Ribs,
    /// Room for the middle lines.
    room: Room,
    /// The same, were there no fittings and marks.
    open: Room,
    /// A spot well inside the zone.
    middle: Spot,
    job: &'a Job,
}

/// Lays out the ribs, clear of fittings, marks and the rim.
///
/// # Errors
/// [`ShellError::CannotBuild`] where no rib has room.
pub fn place_ribs(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: &mut Layout,
    job: &Job,
) -> Result<(), ShellError> {
    let Some(ribs) = &design.ribs else { return Ok(()) };
    job.step("ribs", 0.0)?;
    let Some(middle) = innermost(skin, &zone.covered.distance_mm) else {
        return Err(refuse("spacing_mm", Point3::origin(), "the zone covers no skin".into(), "Make the zone bigger."));
    };
    check_ribs(ribs).map_err(|wrong| wrong.at(middle.point()))?;
    let foot = rib_half_foot_mm(ribs);
    let rim_margin = foot + RIB_RIM_WALL_MM + design.rim.round_mm.max(0.0) + 0.5 * design.rim.flare_width_mm.max(0.0);
    let open = Room::inside(&zone.covered.distance_mm, rim_margin);
    let mut room = open.clone();
    let fittings = layout.cuts.iter().map(|c| (&c.chart, &c.shape));
    let marks = layout.embosses.iter().map(|e| (&e.chart, &e.shape));
    for (chart, shape) in fittings.chain(marks) {
        room.keep_off_shape(skin, chart, shape, foot + RIB_FITTING_WALL_MM);
    }
    let ground = Ground { skin, ribs, room, open, middle, job };
    let least_mm = LEAST_LENGTH_WIDTHS * ribs.width_mm;
    let cut = match ribs.layout {
        RibLayout::Along => row_by_row(&ground, &[Direction::Along], least_mm)?,
        RibLayout::Around => row_by_row(&ground, &[Direction::Around], least_mm)?,
        RibLayout::Crossed => row_by_row(&ground, &[Direction::Along, Direction::Around], least_mm)?,
        RibLayout::Branching => branch(&ground, zone, &fitting_spots(skin, layout), least_mm)?,
    };
    if cut.parts.is_empty() {
        let what = format!("no rib of {} mm has room between the rim and the fittings", ribs.width_mm);
        return Err(refuse("width_mm", ground.middle.point(), what, "Make the ribs narrower or leave them out."));
    }
    job.step("ribs", 0.5)?;
    // Distances are told no farther than this: with less, vents would seem to have no more room beyond it.
    let vents_mm = design.vents.map_or(0.0, |v| v.ligament_mm + v.size_mm);
    let reach = (ribs.width_mm + DISTANCE_REACH_MM).max(foot + vents_mm + 1.0);
    let laid = cut.parts.iter().map(|part| SkinLine::lay(skin, part, false, job)).collect::<Result<Vec<_>, _>>();
    let laid = laid.map_err(|error| match error {
        LineError::Cancelled(stop) => stop.into(),
        other => refuse("layout", ground.middle.point(), other.to_string(), "Clean the scan or choose another layout."),
    })?;
    layout.rib_distance_mm = distance_to_lines(skin, &laid, reach, &job.part(0.5, 1.0))?;
    layout.rib_lines.extend(cut.parts);
    layout.notices.extend(cut.notices);
    Ok(())
}

/// Half the width of a rib where its fillet meets the outer face, mm: half the top and a fillet as wide as the rib
/// is high, at most 2 mm.
#[must_use]
pub fn rib_half_foot_mm(ribs: &Ribs) -> f32 {
    0.5 * ribs.width_mm + ribs.height_mm.clamp(0.0, 2.0)
}

/// Rows through the middle of the zone; where the rim or a fitting leaves none of them any room, through the roomiest spot.
fn row_by_row(ground: &Ground<'_>, directions: &[Direction], least_mm: f32) -> Result<clip::Clipped, ShellError> {
    let through = |middle: Spot| -> Result<clip::Clipped, ShellError> {
        let ground = Ground { room: ground.room.clone(), open: ground.open.clone(), middle, ..*ground };
        let mut lines = Vec::new();
        for direction in directions {
            lines.extend(rows::rows(&ground, *direction)?);
        }
        Ok(clip::clip(&ground, &lines, least_mm))
    };
    let cut = through(ground.middle)?;
    if !cut.parts.is_empty() {
        return Ok(cut);
    }
    innermost(ground.skin, ground.room.clearance_mm()).map_or(Ok(cut), through)
}

/// Branches from the spot that takes the load: the first reinforced region, else the first relief, else the middle of the
/// zone. Where the rim or a fitting leaves no rib there it is the next of these, at last the roomiest spot.
fn branch(ground: &Ground<'_>, zone: &Zone, fittings: &[Spot], least_mm: f32) -> Result<clip::Clipped, ShellError> {
    let bumps = zone.reinforcements.iter().chain(&zone.reliefs);
    let loads = bumps.filter_map(|bump| innermost(ground.skin, &bump.region.distance_mm));
    let roomiest = innermost(ground.skin, ground.room.clearance_mm());
    let mut starts: Vec<(usize, Spot)> = loads.chain([ground.middle]).chain(roomiest).enumerate().collect();
    starts.sort_by_key(|(number, spot)| (ground.room.at(ground.skin, spot) <= 0.0, *number));
    let mut cut = clip::Clipped { parts: Vec::new(), notices: Vec::new() };
    for (number, start) in starts {
        cut = clip::clip(ground, &branching::tree(ground, start, fittings)?, least_mm);
        if !cut.parts.is_empty() {
            if number > 0 {
                let p = start.point();
                cut.notices.push(format!(
                    "Ribs branch from x {:.0}, y {:.0}, z {:.0} mm, as the rim or a fitting leaves them no room where the load is \
                     taken.",
                    p.x, p.y, p.z
                ));
            }
            break;
        }
    }
    Ok(cut)
}

/// One spot for each fitting that is laid out: the mean place of its parts.
fn fitting_spots(skin: &Surface, layout: &Layout) -> Vec<Spot> {
    let mut places: std::collections::BTreeMap<usize, Vec<Point3<f32>>> = std::collections::BTreeMap::new();
    let cuts = layout.cuts.iter().map(|c| (c.source, &c.chart));
    for (source, chart) in cuts.chain(layout.embosses.iter().map(|e| (e.source, &e.chart))) {
        if let Source::Fitting(number) = source {
            places.entry(number).or_default().push(chart.centre.point);
        }
    }
    places
        .values()
        .filter_map(|points| {
            let sum = points.iter().fold(nalgebra::Vector3::zeros(), |s, p| s + p.coords);
            Some(Spot::new(skin, skin.nearest(&Point3::from(sum / points.len() as f32), None)?))
        })
        .collect()
}

fn refuse(field: &str, place: Point3<f32>, what: String, cure: &str) -> ShellError {
    ShellError::CannotBuild { setting: format!("shell.ribs.{field}"), place, what, cure: cure.into() }
}
