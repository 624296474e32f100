//! Branching ribs: from the point that takes the load they spread like the veins of a leaf, each fork serving two ends,
//! so that fittings and rim support the point with little material.

use std::f32::consts::{PI, TAU};

use mesh::Cancelled;
use mesh::geodesic::path;

use super::RibContext;
use crate::pattern::tangent_frame::TangentFrame;

/// Geodesic rays by which the rim is found from the load point.
const RAYS: usize = 72;

/// Distance between the points of a ray, mm.
const STEP_MM: f32 = 3.0;

/// Ribs end this far inside the trim line, mm.
const END_MM: f32 = 0.3;

/// No ray is longer than this, mm.
const LONGEST_MM: f32 = 600.0;

/// Longest single step, mm: short against the radius of a limb.
const STRIDE_MM: f32 = 7.0;

/// Two ends share a stem for this share of the shorter of their paths: with ends one spacing apart the fork is acute.
const STEM_SHARE: f32 = 0.5;

/// Ends farther apart in direction than this get a rib each: a fork between them would be blunt.
const WIDEST_FORK: f32 = 70.0 * PI / 180.0;

/// Ends on the rim.
const ENDS: std::ops::RangeInclusive<usize> = 4..=24;

/// An end of the tree, as seen from the load point.
#[derive(Debug, Clone, Copy)]
struct End {
    frame: TangentFrame,
    /// Direction in which its path starts, radians.
    angle: f32,
    /// Length of its path, mm.
    length: f32,
}

/// The lines of the tree: stems first from the load point, then branches from the forks.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn tree(
    context: &RibContext<'_>,
    load: TangentFrame,
    fittings: &[TangentFrame],
) -> Result<Vec<Vec<TangentFrame>>, Cancelled> {
    let mut ends = rim_ends(context, &load)?;
    for fitting in fittings {
        context.job.check()?;
        let Some(line) = way(context, &load, fitting) else { continue };
        let Some(end) = end_of(&load, &line) else { continue };
        // One that lies at the load is no end.
        if end.length < 0.5 * context.ribs.spacing_mm {
            continue;
        }
        // A fitting takes the place of the rim ends in its direction.
        let room = 0.5 * context.ribs.spacing_mm / end.length.max(1.0);
        ends.retain(|e| apart(e.angle, end.angle) > room);
        ends.push(end);
    }
    ends.sort_by(|a, b| a.angle.total_cmp(&b.angle));
    let mut lines = Vec::new();
    for group in forks(&ends) {
        context.job.check()?;
        match group {
            [a, b] => {
                let turn = (b.angle - a.angle).rem_euclid(TAU);
                let angle = a.angle + 0.5 * turn;
                let stem = ray(context, &load, angle, STEM_SHARE * a.length.min(b.length));
                let Some(fork) = stem.last().copied() else { continue };
                lines.extend([a, b].into_iter().filter_map(|end| way(context, &fork, &end.frame)));
                lines.push(stem);
            }
            single => lines.extend(single.iter().filter_map(|end| way(context, &load, &end.frame))),
        }
    }
    Ok(lines)
}

/// Pairs of neighbouring ends that can share a stem, and the ends left over, in order of direction. A pair across the
/// direction ±π is not joined.
fn forks(ends: &[End]) -> Vec<&[End]> {
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

/// Ends spread evenly along the rim, where geodesics from the load point reach it.
fn rim_ends(context: &RibContext<'_>, load: &TangentFrame) -> Result<Vec<End>, Cancelled> {
    let mut felt = Vec::with_capacity(RAYS);
    for k in 0..RAYS {
        context.job.check()?;
        let angle = (k as f32 + 0.5) / RAYS as f32 * TAU - PI;
        let line = ray(context, load, angle, LONGEST_MM);
        if let Some(frame) = line.last() {
            felt.push(End { frame: *frame, angle, length: STEP_MM * (line.len() - 1) as f32 });
        }
    }
    if felt.len() < 2 {
        return Ok(felt);
    }
    let side = |k: usize| (felt[(k + 1) % felt.len()].frame.point() - felt[k].frame.point()).norm();
    let around: f32 = (0..felt.len()).map(side).sum();
    let wanted = ((around / context.ribs.spacing_mm).round() as usize).clamp(*ENDS.start(), *ENDS.end());
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

/// The geodesic from the load point in a direction, until there is no more room or it is long enough.
fn ray(context: &RibContext<'_>, load: &TangentFrame, angle: f32, longest: f32) -> Vec<TangentFrame> {
    let mut line = vec![*load];
    let (mut at, mut heading) = (*load, [angle.cos(), angle.sin()]);
    let mut left = longest;
    while left > 0.0 {
        let Some((next, ahead)) = stride(context, at, heading, STEP_MM.min(left)) else { break };
        if context.skin.interpolate(context.edge_mm, &next.hit) <= END_MM {
            break;
        }
        line.push(next);
        (at, heading) = (next, ahead);
        left -= STEP_MM;
    }
    line
}

/// The shortest path between two points of the skin.
fn way(context: &RibContext<'_>, from: &TangentFrame, to: &TangentFrame) -> Option<Vec<TangentFrame>> {
    let line = path(context.skin, &from.hit, &to.hit, context.job).ok()?;
    let mut frames = vec![*from];
    let mut seed = from.hit.triangle;
    for p in line.points.iter().skip(1) {
        if frames.last().is_some_and(|s| (s.point() - p).norm() < 0.5 * STEP_MM) {
            continue;
        }
        let hit = context.skin.nearest(p, Some(seed))?;
        seed = hit.triangle;
        frames.push(TangentFrame::new(context.skin, hit));
    }
    frames.push(*to);
    Some(frames)
}

fn end_of(load: &TangentFrame, line: &[TangentFrame]) -> Option<End> {
    let length = line.windows(2).map(|w| (w[1].point() - w[0].point()).norm()).sum();
    let first = load.log_map(line.get(1)?);
    Some(End { frame: *line.last()?, angle: first[1].atan2(first[0]), length })
}

fn apart(a: f32, b: f32) -> f32 {
    let d = (a - b).rem_euclid(TAU);
    d.min(TAU - d)
}

/// Follows the geodesic for `length`; returns its end and the heading there.
fn stride(
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
