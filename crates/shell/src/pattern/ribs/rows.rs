//! Ribs in rows: one line along or around the limb through the middle of the zone, the others parallel to it.
//!
//! Each row runs at a fixed geodesic distance from the first: its points are reached by geodesics square to the first
//! line. So the spacing is even where the limb tapers, too, and no rib ends in the middle of the shell.

use mesh::{Cancelled, SpatialHash};

use super::RibContext;
use crate::pattern::tangent_frame::TangentFrame;

/// Which way rows run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Along the limb.
    Along,
    /// Around the limb.
    Around,
}

/// Distance between the points of a line, mm.
const STEP_MM: f32 = 2.0;

/// Longest single step, mm: short against the radius of a limb.
const STRIDE_MM: f32 = 7.0;

/// Most points of a line: five metres of rib fit on no limb.
const MOST_POINTS: usize = 2500;

/// Rows that meet behind the limb end where they are nearer than this share of the spacing.
const LEAST_SPACING_SHARE: f32 = 0.7;

/// All rows that pass over the zone, the middle one first.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn rows(context: &RibContext<'_>, direction: Direction) -> Result<Vec<Vec<TangentFrame>>, Cancelled> {
    let spacing = context.ribs.spacing_mm;
    let first = middle_line(context, direction);
    let mut near = SpatialHash::new(spacing);
    first.iter().for_each(|s| near.add(s.point()));
    let mut rows = vec![first.clone()];
    let headings = headings(&first);
    for side in [1.0, -1.0] {
        let mut walkers: Vec<Option<(TangentFrame, [f32; 2])>> =
            first.iter().zip(&headings).map(|(s, h)| Some((*s, [-h[1] * side, h[0] * side]))).collect();
        loop {
            context.job.check()?;
            for walker in &mut walkers {
                *walker = walker.and_then(|(frame, heading)| stride(context, frame, heading, spacing));
            }
            let inside = walkers.iter().flatten().any(|(s, _)| context.open.at(context.skin, s) > 0.0);
            let found = pieces(&walkers, &near, LEAST_SPACING_SHARE * spacing);
            let reached = found.iter().flatten().any(|s| context.open.at(context.skin, s) > 0.0);
            found.iter().flatten().for_each(|s| near.add(s.point()));
            rows.extend(found);
            if !inside || !reached {
                break;
            }
        }
    }
    Ok(rows)
}

/// The line through the middle of the zone, as long as it is within a row's distance of the zone.
fn middle_line(context: &RibContext<'_>, direction: Direction) -> Vec<TangentFrame> {
    let heading = |frame: &TangentFrame| match direction {
        Direction::Along => frame.along,
        Direction::Around => frame.around,
    };
    let mut halves = [1.0_f32, -1.0].map(|side| {
        let mut line = vec![context.middle];
        let mut at = context.middle;
        let mut before = heading(&at) * side;
        while line.len() < MOST_POINTS {
            // Over the tip of a limb the direction reverses; a rib ends there.
            let ahead = heading(&at);
            if ahead.dot(&before) * side < 0.0 && ahead.dot(&before).abs() > 0.5 {
                break;
            }
            let step = ahead * side;
            let Some(next) = at.exp_map(context.skin, [step.dot(&at.around) * STEP_MM, step.dot(&at.along) * STEP_MM])
            else {
                break;
            };
            let came_round = line.len() > 4 && (next.point() - context.middle.point()).norm() < 0.9 * STEP_MM;
            // Rows beside it start from its points, so it goes on beyond the zone as far as they may reach.
            if came_round || context.open.at(context.skin, &next) < -60.0 {
                break;
            }
            before = step;
            line.push(next);
            at = next;
        }
        line
    });
    let [ahead, behind] = &mut halves;
    // A ring that came round is complete with one half.
    let ring =
        ahead.len() > 4 && ahead.last().is_some_and(|l| (l.point() - context.middle.point()).norm() < 1.9 * STEP_MM);
    if ring {
        let first = ahead[0];
        ahead.push(first);
        return std::mem::take(ahead);
    }
    behind.reverse();
    behind.pop();
    behind.append(ahead);
    std::mem::take(behind)
}

/// Unit directions of a line at its points, from its neighbours.
fn headings(line: &[TangentFrame]) -> Vec<[f32; 2]> {
    (0..line.len())
        .map(|i| {
            let (before, after) = (i.saturating_sub(1), (i + 1).min(line.len() - 1));
            let (a, b) = (line[i].log_map(&line[before]), line[i].log_map(&line[after]));
            let way = [b[0] - a[0], b[1] - a[1]];
            let length = way[0].hypot(way[1]).max(1e-6);
            [way[0] / length, way[1] / length]
        })
        .collect()
}

/// Follows the geodesic for `length`; returns its end and the heading there.
pub fn stride(
    context: &RibContext<'_>,
    mut frame: TangentFrame,
    mut heading: [f32; 2],
    length: f32,
) -> Option<(TangentFrame, [f32; 2])> {
    let strides = (length / STRIDE_MM).ceil().max(1.0);
    let step = length / strides;
    for _ in 0..strides as usize {
        let next = frame.exp_map(context.skin, [heading[0] * step, heading[1] * step])?;
        let carried = next.transport_from(&frame, &frame.vector(heading));
        let length = carried[0].hypot(carried[1]).max(1e-6);
        heading = [carried[0] / length, carried[1] / length];
        frame = next;
    }
    Some((frame, heading))
}

/// The connected parts of a row, less what is too near to earlier rows.
fn pieces(walkers: &[Option<(TangentFrame, [f32; 2])>], near: &SpatialHash, least: f32) -> Vec<Vec<TangentFrame>> {
    /// Neighbouring walkers farther apart than this are on different sides of an obstacle.
    const TORN_MM: f32 = 8.0;
    let mut pieces: Vec<Vec<TangentFrame>> = vec![Vec::new()];
    for walker in walkers {
        let fitting = walker.filter(|(s, _)| near.within(&s.point(), least).is_empty());
        let last = pieces.last().and_then(|p| p.last());
        match (fitting, last) {
            (Some((frame, _)), Some(last)) if (frame.point() - last.point()).norm() > TORN_MM => {
                pieces.push(vec![frame])
            }
            (Some((frame, _)), _) => pieces.last_mut().into_iter().for_each(|p| p.push(frame)),
            (None, Some(_)) => pieces.push(Vec::new()),
            (None, None) => {}
        }
    }
    pieces.retain(|p| p.len() > 1);
    pieces
}
