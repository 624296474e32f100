//! Ribs in rows: one line along or around the limb through the middle of the zone, the others parallel to it.
//!
//! Each row runs at a fixed distance, measured on the skin, from the first: its points are reached by walking square
//! to the first line. So the spacing is even also where the limb tapers, and no rib ends in the middle of the shell.

use mesh::Cancelled;

use super::Ground;
use crate::pattern::near::Near;
use crate::pattern::tangent::Spot;

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

/// Longest single walk, mm: short against the radius of a limb.
const STRIDE_MM: f32 = 7.0;

/// No line is longer than this many points: five metres of rib are no limb.
const MOST_POINTS: usize = 2500;

/// Rows that come together behind the limb end where they are nearer than this share of the spacing.
const LEAST_SPACING_SHARE: f32 = 0.7;

/// All rows that pass over the zone, the middle one first.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn rows(ground: &Ground<'_>, direction: Direction) -> Result<Vec<Vec<Spot>>, Cancelled> {
    let spacing = ground.ribs.spacing_mm;
    let first = middle_line(ground, direction);
    let mut near = Near::new(spacing);
    first.iter().for_each(|s| near.add(s.point()));
    let mut rows = vec![first.clone()];
    let headings = headings(&first);
    for side in [1.0, -1.0] {
        let mut walkers: Vec<Option<(Spot, [f32; 2])>> =
            first.iter().zip(&headings).map(|(s, h)| Some((*s, [-h[1] * side, h[0] * side]))).collect();
        loop {
            ground.job.check()?;
            for walker in &mut walkers {
                *walker = walker.and_then(|(spot, heading)| stride(ground, spot, heading, spacing));
            }
            let inside = walkers.iter().flatten().any(|(s, _)| ground.open.at(ground.skin, s) > 0.0);
            let found = pieces(&walkers, &near, LEAST_SPACING_SHARE * spacing);
            let reached = found.iter().flatten().any(|s| ground.open.at(ground.skin, s) > 0.0);
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
fn middle_line(ground: &Ground<'_>, direction: Direction) -> Vec<Spot> {
    let heading = |spot: &Spot| match direction {
        Direction::Along => spot.along,
        Direction::Around => spot.around,
    };
    let mut halves = [1.0_f32, -1.0].map(|side| {
        let mut line = vec![ground.middle];
        let mut at = ground.middle;
        let mut before = heading(&at) * side;
        while line.len() < MOST_POINTS {
            // Where the limb closes over a tip the direction turns round; a rib does not.
            let ahead = heading(&at);
            if ahead.dot(&before) * side < 0.0 && ahead.dot(&before).abs() > 0.5 {
                break;
            }
            let step = ahead * side;
            let Some(next) = at.walk(ground.skin, [step.dot(&at.around) * STEP_MM, step.dot(&at.along) * STEP_MM])
            else {
                break;
            };
            let came_round = line.len() > 4 && (next.point() - ground.middle.point()).norm() < 0.9 * STEP_MM;
            // Parallel rows need its ends too, so it goes on beyond the zone for as far as they may reach.
            if came_round || ground.open.at(ground.skin, &next) < -60.0 {
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
        ahead.len() > 4 && ahead.last().is_some_and(|l| (l.point() - ground.middle.point()).norm() < 1.9 * STEP_MM);
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
fn headings(line: &[Spot]) -> Vec<[f32; 2]> {
    (0..line.len())
        .map(|i| {
            let (before, after) = (i.saturating_sub(1), (i + 1).min(line.len() - 1));
            let (a, b) = (line[i].way_to(&line[before]), line[i].way_to(&line[after]));
            let way = [b[0] - a[0], b[1] - a[1]];
            let length = way[0].hypot(way[1]).max(1e-6);
            [way[0] / length, way[1] / length]
        })
        .collect()
}

/// Walks straight on for `length`, turning nowhere; also tells the heading at the end.
pub fn stride(ground: &Ground<'_>, mut spot: Spot, mut heading: [f32; 2], length: f32) -> Option<(Spot, [f32; 2])> {
    let strides = (length / STRIDE_MM).ceil().max(1.0);
    let step = length / strides;
    for _ in 0..strides as usize {
        let next = spot.walk(ground.skin, [heading[0] * step, heading[1] * step])?;
        let carried = next.carry_from(&spot, &spot.vector(heading));
        let length = carried[0].hypot(carried[1]).max(1e-6);
        heading = [carried[0] / length, carried[1] / length];
        spot = next;
    }
    Some((spot, heading))
}

/// What hangs together of a row, less what is too near to earlier rows.
fn pieces(walkers: &[Option<(Spot, [f32; 2])>], near: &Near, least: f32) -> Vec<Vec<Spot>> {
    /// Neighbouring walkers farther apart than this have taken different ways round something.
    const TORN_MM: f32 = 8.0;
    let mut pieces: Vec<Vec<Spot>> = vec![Vec::new()];
    for walker in walkers {
        let fitting = walker.filter(|(s, _)| near.within(&s.point(), least).is_empty());
        let last = pieces.last().and_then(|p| p.last());
        match (fitting, last) {
            (Some((spot, _)), Some(last)) if (spot.point() - last.point()).norm() > TORN_MM => pieces.push(vec![spot]),
            (Some((spot, _)), _) => pieces.last_mut().into_iter().for_each(|p| p.push(spot)),
            (None, Some(_)) => pieces.push(Vec::new()),
            (None, None) => {}
        }
    }
    pieces.retain(|p| p.len() > 1);
    pieces
}
