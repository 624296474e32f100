//! Ribs: centre lines on the skin, clear of the rim, fittings and marks.

mod bow;
mod branching;
mod clip;
mod diamond;
mod flow;
mod frames;
mod load_paths;
mod plate;
mod rows;
#[cfg(test)]
mod tests;

use mesh::geodesic::{LineError, SurfaceLine, distance_to_lines};
use mesh::{Cancelled, Job, Place, Surface};
use nalgebra::Point3;
use zone::Zone;

use self::clip::Clipped;
use self::frames::Obstacles;
use self::plate::{Plate, Support};
use self::rows::Direction;
use super::free_space::{FAR_MM, FreeSpace};
use super::tangent_frame::TangentFrame;
use super::vents::innermost;
use crate::board::Board;
use crate::design_check::check_ribs;
use crate::{Design, Layout, RibLayout, Ribs, ShellError};

/// Wall between the foot of a rib and a fitting or mark, mm: the face round a slot stays flat for its strap.
pub const RIB_FITTING_WALL_MM: f32 = 2.0;

/// Beyond the rounding of the rim and half the flare, a rib's foot ends this far from the rim, mm.
pub const RIB_RIM_WALL_MM: f32 = 1.0;

/// Parts of ribs shorter than this many widths are left out.
const LEAST_LENGTH_WIDTHS: f32 = 4.0;

/// Branches keep so much more off what has no frame, mm, that none is cut by it.
const OFF_CUT_MM: f32 = 2.0;

/// Distances to ribs are exact this far beyond the rib's width, mm.
const DISTANCE_REACH_MM: f32 = 6.0;

/// What ribs are placed on.
struct RibContext<'a> {
    skin: &'a Surface,
    ribs: &'a Ribs,
    /// Free space of the centre lines.
    room: FreeSpace,
    /// The same without fittings and marks.
    open: FreeSpace,
    /// Distance to the trim line at each vertex, mm.
    edge_mm: &'a [f32],
    /// How far inside the trim line a middle line has all of its foot, mm.
    rim_margin_mm: f32,
    /// What rows are laid out on.
    board: Board<'a>,
    /// A point well inside the zone.
    middle: TangentFrame,
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
    let rim_margin = foot + RIB_RIM_WALL_MM + design.rim.round_mm.max(0.0) + 0.25 * design.rim.flare_width_mm.max(0.0);
    let open = FreeSpace::inside(&zone.covered.distance_mm, rim_margin);
    let mut room = open.clone();
    room.keep_off_placed(skin, layout, foot + RIB_FITTING_WALL_MM, job)?;
    let board = Board::new(skin, zone, "shell.ribs.layout", job)?;
    let edge_mm = &zone.covered.distance_mm[..];
    let context = RibContext { skin, ribs, room, open, edge_mm, rim_margin_mm: rim_margin, board, middle, job };
    let least_mm = LEAST_LENGTH_WIDTHS * ribs.width_mm;
    let cut = match ribs.layout {
        RibLayout::Along => row_by_row(&context, zone, layout, &[Direction::Along])?,
        RibLayout::Around => row_by_row(&context, zone, layout, &[Direction::Around])?,
        RibLayout::Crossed => row_by_row(&context, zone, layout, &[Direction::Along, Direction::Around])?,
        RibLayout::Branching => {
            let obstacles = Obstacles::of(&context, zone, layout)?;
            framed(branch(&context, zone, &obstacles, least_mm)?, &obstacles)
        }
        RibLayout::Diamond => {
            let obstacles = Obstacles::of(&context, zone, layout)?;
            framed(clip::clip(&context, &obstacles, &diamond::lines(&context)?, least_mm)?, &obstacles)
        }
    };
    if cut.parts.is_empty() {
        let what = format!("no rib of {:.1} mm has room between the rim and the fittings", ribs.width_mm);
        return Err(refuse("width_mm", context.middle.point(), what, "Make the ribs narrower or leave them out."));
    }
    job.step("ribs", 0.5)?;
    // Distances end here: with a shorter reach, vents would find no room beyond it.
    let vents_mm = design.vents.map_or(0.0, |v| v.ligament_mm + v.size_mm);
    let reach = (ribs.width_mm + DISTANCE_REACH_MM).max(foot + vents_mm + 1.0);
    let laid = cut.parts.iter().map(|part| SurfaceLine::lay(skin, part, false, job)).collect::<Result<Vec<_>, _>>();
    let laid = laid.map_err(|error| match error {
        LineError::Cancelled(stop) => stop.into(),
        other => {
            refuse("layout", context.middle.point(), other.to_string(), "Clean the scan or choose another layout.")
        }
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

/// Room for middle lines beside fittings and marks, wherever the rim is.
fn clear_of_placed(context: &RibContext<'_>, layout: &Layout) -> Result<FreeSpace, Cancelled> {
    let mut clear = FreeSpace::inside(&vec![FAR_MM; context.edge_mm.len()], 0.0);
    let margin_mm = rib_half_foot_mm(context.ribs) + RIB_FITTING_WALL_MM;
    clear.keep_off_placed(context.skin, layout, margin_mm, context.job)?;
    Ok(clear)
}

/// A network with its frames; without ribs that end on them there are none.
fn framed(mut cut: Clipped, obstacles: &Obstacles<'_>) -> Clipped {
    if !cut.parts.is_empty() {
        cut.parts.extend(obstacles.frames.iter().cloned());
    }
    cut
}

/// Rows from rim to rim past fittings, marks and reliefs; where reliefs leave none of them a way, over those.
fn row_by_row(
    context: &RibContext<'_>,
    zone: &Zone,
    layout: &Layout,
    directions: &[Direction],
) -> Result<Clipped, ShellError> {
    let foot = rib_half_foot_mm(context.ribs);
    let clear = clear_of_placed(context, layout)?;
    let mut off_reliefs = clear.clone();
    for relief in &zone.reliefs {
        let outside: Vec<f32> = relief.region.distance_mm.iter().map(|d| -d).collect();
        off_reliefs.keep_off(&outside, foot);
    }
    let mut found = rows::Rows::default();
    for room in [&off_reliefs, &clear] {
        found = rows::Rows::default();
        for direction in directions {
            let rows = rows::rows(context, *direction, room)?;
            found.lines.extend(rows.lines);
            found.lost += rows.lost;
        }
        if !found.lines.is_empty() {
            break;
        }
    }
    let least_mm = LEAST_LENGTH_WIDTHS * context.ribs.width_mm;
    let length = |line: &Vec<TangentFrame>| line.windows(2).map(|w| (w[1].point() - w[0].point()).norm()).sum::<f32>();
    let before = found.lines.len();
    found.lines.retain(|line| length(line) >= least_mm);
    let lost = found.lost + before - found.lines.len();
    let mut notices = Vec::new();
    if lost > 0 {
        let ribs = if lost == 1 { "1 rib finds".to_owned() } else { format!("{lost} ribs find") };
        notices.push(format!("{ribs} no way from rim to rim past what is placed; left out."));
    }
    let parts = found.lines.iter().map(|line| line.iter().map(TangentFrame::point).collect()).collect();
    Ok(Clipped { parts, notices })
}

/// Branches from the spot that takes the load: the first reinforced region, else the first relief, else the middle of
/// the zone. Where the rim or a fitting leaves no room for ribs there, it is the next of these, and finally the
/// roomiest spot.
fn branch(
    context: &RibContext<'_>,
    zone: &Zone,
    obstacles: &Obstacles<'_>,
    least_mm: f32,
) -> Result<Clipped, ShellError> {
    let bumps = zone.reinforcements.iter().chain(&zone.reliefs);
    let loads = bumps.filter_map(|bump| innermost(context.skin, &bump.region.distance_mm));
    let roomiest = innermost(context.skin, context.room.clearance_mm());
    let mut starts: Vec<(usize, TangentFrame)> = loads.chain([context.middle]).chain(roomiest).enumerate().collect();
    // Under what is framed the load goes over to the frame.
    let takes = |start: &TangentFrame| context.open.at(context.skin, start) > 0.0;
    starts.sort_by_key(|(number, start)| (!takes(start), *number));
    let mut cut = Clipped { parts: Vec::new(), notices: Vec::new() };
    for (number, start) in starts {
        // A fitting under the load takes none of it.
        let beside = |f: &&Support| (f.middle - start.point()).norm() > f.reach_mm + load_paths::SPREAD_MM;
        let supports: Vec<Support> = obstacles.supports.iter().filter(beside).copied().collect();
        let cut_off = obstacles.cut(context, &start, OFF_CUT_MM);
        let Some(plate) = Plate::new(context.skin, context.edge_mm, &supports, &cut_off, context.job)? else { break };
        let paths = load_paths::load_paths(context, zone, &plate, &start, &supports)?;
        cut = clip::clip(context, obstacles, &branching::tree(context, &paths, obstacles)?, least_mm)?;
        if !cut.parts.is_empty() {
            if number > 0 {
                cut.notices.push(format!(
                    "Ribs branch from {:#} mm, as the rim or a fitting leaves them no room where the load is \
                     taken.",
                    Place::new(&start.point(), 0)
                ));
            }
            break;
        }
    }
    Ok(cut)
}

fn refuse(field: &str, place: Point3<f32>, what: String, cure: &str) -> ShellError {
    ShellError::CannotBuild { setting: format!("shell.ribs.{field}"), place, what, cure: cure.into() }
}
