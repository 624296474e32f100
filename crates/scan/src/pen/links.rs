//! Which ridge points belong together: along unbroken ink, and over gaps.

use std::collections::HashSet;

use mesh::{Cancelled, Job, SpatialHash};
use nalgebra::{Point3, Vector3};

use super::PenSettings;
use super::ridge::RidgePoint;
use super::skin_graph::SkinGraph;

/// Two ridge points that follow each other on a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Link {
    pub a: u32,
    pub b: u32,
    pub length_mm: f32,
    /// Its length if it is all ink; more if it leads over a gap or turns.
    pub cost: f32,
    pub gap: bool,
}

/// Ink fades out over about this length beyond the last point of a line, at both ends, mm.
const END_SLACK_MM: f32 = 1.5;
/// Share of the weaker ridge point's contrast that must be kept all the way between two ridge points.
const LEAST_SHARE: f32 = 0.4;

/// Links neighbouring ridge points between which the ink does not stop.
pub(super) fn ink_links(
    ridge_points: &[RidgePoint],
    graph: &SkinGraph,
    inked: &[f32],
    spacing_mm: f32,
    job: &Job,
) -> Result<Vec<Link>, Cancelled> {
    let reach = 2.3 * spacing_mm;
    let near = SpatialHash::of(reach, ridge_points.iter().map(|b| b.at));
    let mut links = Vec::new();
    for (i, point) in ridge_points.iter().enumerate() {
        job.check()?;
        for j in near.candidates(&point.at).filter(|j| (*j as usize) > i) {
            let other = &ridge_points[j as usize];
            let d = other.at - point.at;
            let length_mm = d.norm();
            if length_mm > reach || length_mm < 1e-3 || point.normal.dot(&other.normal) < 0.2 {
                continue;
            }
            let on_line = d.dot(&point.along).abs().max(d.dot(&other.along).abs()) > 0.5 * length_mm;
            let least = LEAST_SHARE * point.ink.min(other.ink);
            let all_ink = || {
                [0.25, 0.5, 0.75].iter().all(|f| {
                    graph
                        .surface
                        .nearest(&(point.at + d * *f), None)
                        .is_some_and(|hit| hit.distance2 < 2.25 && graph.surface.interpolate(inked, &hit) >= least)
                })
            };
            if on_line && all_ink() {
                links.push(Link { a: i as u32, b: j, length_mm, cost: length_mm, gap: false });
            }
        }
    }
    Ok(links)
}

/// Links over gaps that are short enough to be closed: from an end of the ink to ink ahead of it.
pub(super) fn gap_links(
    ridge_points: &[RidgePoint],
    ink: &[Link],
    graph: &SkinGraph,
    settings: &PenSettings,
    job: &Job,
) -> Result<Vec<Link>, Cancelled> {
    let neighbours = neighbours(ridge_points.len(), ink);
    let short = settings.max_gap_mm + 2.0 * END_SLACK_MM;
    let far = short.max(settings.max_hole_mm + 2.0 * END_SLACK_MM);
    let near = SpatialHash::of(far, ridge_points.iter().map(|b| b.at));
    let free: Vec<Vec<Vector3<f32>>> =
        (0..ridge_points.len()).map(|i| free_directions(ridge_points, &neighbours, i)).collect();
    let mut along_ink: Vec<Vec<(u32, f32)>> = Vec::with_capacity(ridge_points.len());
    for (i, free) in free.iter().enumerate() {
        job.check()?;
        along_ink.push(if free.is_empty() { Vec::new() } else { near_along_ink(i as u32, &neighbours, far) });
    }
    let ends: Vec<Vec<Vector3<f32>>> = (0..ridge_points.len())
        .map(|i| free[i].iter().map(|f| heading(ridge_points, &along_ink[i], i, f)).collect())
        .collect();

    let mut links = Vec::new();
    for (i, point) in ridge_points.iter().enumerate() {
        job.check()?;
        for direction in &ends[i] {
            let mut leaps: Vec<(Link, u32)> = Vec::new();
            for j in near.candidates(&point.at).filter(|j| *j as usize != i) {
                let other = &ridge_points[j as usize];
                let d = other.at - point.at;
                let length_mm = d.norm();
                if length_mm > far || length_mm < 1e-3 || point.normal.dot(&other.normal) < 0.0 {
                    continue;
                }
                if along_ink[i].iter().any(|(k, s)| *k == j && *s < 2.5 * length_mm + 4.0) {
                    continue;
                }
                let ahead = d.dot(direction) / length_mm;
                let met = ends[j as usize].iter().map(|e| -d.dot(e) / length_mm).fold(f32::NEG_INFINITY, f32::max);
                let head_on = met > 0.4;
                if ahead < if length_mm < 5.0 { 0.0 } else { 0.4 } {
                    continue;
                }
                if length_mm > short && !(ahead > 0.75 && met > 0.7) {
                    continue;
                }
                let turning = 4.0 * (1.0 - ahead) + if head_on { 4.0 * (1.0 - met) } else { 2.0 };
                let (a, b) = if (i as u32) < j { (i as u32, j) } else { (j, i as u32) };
                let leap = Link { a, b, length_mm, cost: length_mm * (3.0 + turning) + 2.0, gap: true };
                leaps.push((leap, j));
            }
            leaps.sort_by(|(x, _), (y, _)| x.cost.total_cmp(&y.cost).then((x.a, x.b).cmp(&(y.a, y.b))));
            let may_leap = |(leap, to): &(Link, u32)| {
                leap.length_mm <= short || share_over_hole(graph, &point.at, &ridge_points[*to as usize].at) >= 0.5
            };
            links.extend(leaps.into_iter().filter(may_leap).map(|(leap, _)| leap).take(3));
        }
    }
    links.sort_by(|x, y| (x.a, x.b).cmp(&(y.a, y.b)).then(x.cost.total_cmp(&y.cost)));
    links.dedup_by_key(|l| (l.a, l.b));
    Ok(links)
}

/// For each ridge point its neighbours and the lengths of the links to them.
pub(super) fn neighbours(ridge_points: usize, links: &[Link]) -> Vec<Vec<(u32, f32)>> {
    let mut neighbours = vec![Vec::new(); ridge_points];
    for l in links {
        neighbours[l.a as usize].push((l.b, l.length_mm));
        neighbours[l.b as usize].push((l.a, l.length_mm));
    }
    neighbours
}

/// The directions along the line in which a point has no neighbour.
fn free_directions(ridge_points: &[RidgePoint], neighbours: &[Vec<(u32, f32)>], i: usize) -> Vec<Vector3<f32>> {
    let point = &ridge_points[i];
    [point.along, -point.along]
        .into_iter()
        .filter(|way| {
            !neighbours[i].iter().any(|(j, length)| (ridge_points[*j as usize].at - point.at).dot(way) > 0.35 * length)
        })
        .collect()
}

/// The direction in which ink leaves its last point, seen from a ridge point some way back, since ridge points at the
/// rim of a hole see half of the line only and lie askew.
fn heading(ridge_points: &[RidgePoint], own: &[(u32, f32)], i: usize, free: &Vector3<f32>) -> Vector3<f32> {
    const BACK_MM: f32 = 7.0;
    let end = ridge_points[i].at;
    own.iter()
        .filter(|(j, along)| *along > 0.4 * BACK_MM && (end - ridge_points[*j as usize].at).dot(free) > 0.0)
        .min_by(|x, y| (x.1 - BACK_MM).abs().total_cmp(&(y.1 - BACK_MM).abs()).then(x.0.cmp(&y.0)))
        .and_then(|(j, _)| (end - ridge_points[*j as usize].at).try_normalize(1e-6))
        .and_then(|way| (way * 2.0 + free).try_normalize(1e-6))
        .unwrap_or(*free)
}

/// The ridge points within two and a half times the reach along the ink, with their distance along it.
fn near_along_ink(from: u32, neighbours: &[Vec<(u32, f32)>], far: f32) -> Vec<(u32, f32)> {
    let limit = 2.5 * far + 4.0;
    let mut found = vec![(from, 0.0_f32)];
    // Only ever asked whether a point is there, so its order is never seen.
    let mut seen = HashSet::from([from]);
    let mut at = 0;
    while at < found.len() {
        let (here, so_far) = found[at];
        for (next, length) in &neighbours[here as usize] {
            if so_far + length < limit && seen.insert(*next) {
                found.push((*next, so_far + length));
            }
        }
        at += 1;
    }
    found
}

/// Share of the straight line between two points that has no skin under it.
pub(super) fn share_over_hole(graph: &SkinGraph, from: &Point3<f32>, to: &Point3<f32>) -> f32 {
    const STEPS: usize = 16;
    let empty = (1..STEPS)
        .filter(|k| {
            let p = from + (to - from) * (*k as f32 / STEPS as f32);
            graph.surface.nearest(&p, None).is_none_or(|hit| graph.is_unseen(&hit))
        })
        .count();
    empty as f32 / (STEPS - 1) as f32
}
