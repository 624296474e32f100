//! Ribs that carry a load away: from the spot that takes it they run out like the veins of a leaf, each fork serving
//! two ends, so that fittings and the whole rim hold the spot with little material.

use std::f32::consts::{PI, TAU};

use mesh::Cancelled;
use mesh::geodesic::path;

use super::Ground;
use super::rows::stride;
use crate::pattern::tangent::Spot;

/// Rays by which the shape of the zone is felt from the load spot.
const RAYS: usize = 72;

/// Distance between the points of a ray, mm.
const STEP_MM: f32 = 3.0;

/// No ray is longer than this, mm.
const LONGEST_MM: f32 = 600.0;

/// Two ends share a stem for this share of the shorter way. With the ends one spacing apart the fork is then acute.
const STEM_SHARE: f32 = 0.5;

/// Ends farther apart in direction than this get a rib each: a fork between them would be blunt.
const WIDEST_FORK: f32 = 70.0 * PI / 180.0;

/// Ends on the rim.
const ENDS: std::ops::RangeInclusive<usize> = 4..=24;

/// An end of the tree, as seen from the load spot.
#[derive(Debug, Clone, Copy)]
struct End {
    spot: Spot,
    /// Direction in which the way sets out, radians.
    angle: f32,
    /// Length of the way, mm.
    length: f32,
}

/// The lines of the tree: stems first from the load spot, then branches from the forks.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn tree(ground: &Ground<'_>, load: Spot, fittings: &[Spot]) -> Result<Vec<Vec<Spot>>, Cancelled> {
    let mut ends = rim_ends(ground, &load)?;
    for fitting in fittings {
        ground.job.check()?;
        let Some(line) = way(ground, &load, fitting) else { continue };
        let Some(end) = end_of(&load, &line) else { continue };
        // A fitting takes the place of the rim ends in its direction.
        let room = 0.5 * ground.ribs.spacing_mm / end.length.max(1.0);
        ends.retain(|e| apart(e.angle, end.angle) > room);
        ends.push(end);
    }
    ends.sort_by(|a, b| a.angle.total_cmp(&b.angle));
    let mut lines = Vec::new();
    for group in forks(&ends) {
        ground.job.check()?;
        match group {
            [a, b] => {
                let turn = (b.angle - a.angle).rem_euclid(TAU);
                let angle = a.angle + 0.5 * turn;
                let stem = ray(ground, &load, angle, STEM_SHARE * a.length.min(b.length));
                let Some(fork) = stem.last().copied() else { continue };
                lines.extend([a, b].into_iter().filter_map(|end| way(ground, &fork, &end.spot)));
                lines.push(stem);
            }
            single => lines.extend(single.iter().filter_map(|end| way(ground, &load, &end.spot))),
        }
    }
    Ok(lines)
}

/// Pairs of neighbouring ends that can share a stem, and the ends left over, in order of direction.
fn forks(ends: &[End]) -> Vec<&[End]> {
    // Start after the widest gap, so that no pair is split by the way the circle is cut open: the ends are sorted, and
    // only a pair over the seam is lost.
    let mut groups = Vec::new();
    let mut i = 0;
    while i < ends.len() {
        let pair = ends.get(i..i + 2).filter(|p| p[1].angle - p[0].angle <= WIDEST_FORK);
        let group = pair.unwrap_or(&ends[i..=i]);
        i += group.len();
        groups.push(group);
    }
    groups
}

/// Ends spread evenly along the rim, where straight ways from the load spot reach it.
fn rim_ends(ground: &Ground<'_>, load: &Spot) -> Result<Vec<End>, Cancelled> {
    let mut felt = Vec::with_capacity(RAYS);
    for k in 0..RAYS {
        ground.job.check()?;
        let angle = (k as f32 + 0.5) / RAYS as f32 * TAU - PI;
        let line = ray(ground, load, angle, LONGEST_MM);
        if let Some(spot) = line.last() {
            felt.push(End { spot: *spot, angle, length: STEP_MM * (line.len() - 1) as f32 });
        }
    }
    if felt.len() < 2 {
        return Ok(felt);
    }
    let side = |k: usize| (felt[(k + 1) % felt.len()].spot.point() - felt[k].spot.point()).norm();
    let around: f32 = (0..felt.len()).map(side).sum();
    let wanted = ((around / ground.ribs.spacing_mm).round() as usize).clamp(*ENDS.start(), *ENDS.end());
    let pitch = around / (wanted & !1) as f32;
    let mut ends = Vec::new();
    let mut passed = 0.5 * pitch;
    for (k, end) in felt.iter().enumerate() {
        if passed >= pitch {
            passed -= pitch;
            ends.push(*end);
        }
        passed += side(k);
    }
    Ok(ends)
}

/// The straight way from the load spot in a direction, until there is no more room or it is long enough.
fn ray(ground: &Ground<'_>, load: &Spot, angle: f32, longest: f32) -> Vec<Spot> {
    let mut line = vec![*load];
    let (mut at, mut heading) = (*load, [angle.cos(), angle.sin()]);
    let mut left = longest;
    while left > 0.0 {
        let Some((next, ahead)) = stride(ground, at, heading, STEP_MM.min(left)) else { break };
        if ground.open.at(ground.skin, &next) <= 0.0 {
            break;
        }
        line.push(next);
        (at, heading) = (next, ahead);
        left -= STEP_MM;
    }
    line
}

/// The shortest way between two spots, as spots.
fn way(ground: &Ground<'_>, from: &Spot, to: &Spot) -> Option<Vec<Spot>> {
    let line = path(ground.skin, &from.hit, &to.hit).ok()?;
    let mut spots = vec![*from];
    let mut seed = from.hit.triangle;
    for p in line.points.iter().skip(1) {
        if spots.last().is_some_and(|s| (s.point() - p).norm() < 0.5 * STEP_MM) {
            continue;
        }
        let hit = ground.skin.nearest(p, Some(seed))?;
        seed = hit.triangle;
        spots.push(Spot::new(ground.skin, hit));
    }
    spots.push(*to);
    Some(spots)
}

fn end_of(load: &Spot, line: &[Spot]) -> Option<End> {
    let length = line.windows(2).map(|w| (w[1].point() - w[0].point()).norm()).sum();
    let first = load.way_to(line.get(1)?);
    Some(End { spot: *line.last()?, angle: first[1].atan2(first[0]), length })
}

fn apart(a: f32, b: f32) -> f32 {
    let d = (a - b).rem_euclid(TAU);
    d.min(TAU - d)
}
