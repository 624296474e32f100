//! Rings drawn inside the pen line, round a bony point or a wound.

use mesh::{Cancelled, Job, SpatialHash};
use nalgebra::{Point3, Vector3};

use super::closed::Drawn;
use super::cycles::{SpanningForest, in_order};
use super::dash_chain::chains;
use super::dashed::drawn_through;
use super::dashes::{Dash, nearest_vertex};
use super::inside::{part, patch};
use super::judge::{SAME_INK, Search, UsualInk};
use super::links::{Link, gap_links, ink_links};
use super::polyline::flat_area;
use super::ridge::{RidgePoint, ridge_spacing_mm};
use super::trace::Trace;
use super::{PenLine, PenRing};

/// What a ring encloses, mm²: less is a letter or a spot, more is another region.
const AREAS_MM2: std::ops::RangeInclusive<f64> = 100.0..=6000.0;
/// A ring keeps this far from the pen line, from middle to middle of the ink, mm: nearer is the same line drawn twice.
const CLEAR_OF_LINE_MM: f32 = 6.0;
/// Ink at a ring that leads farther away from it makes it a letter or a cross, mm; or this share of its length.
const LONGEST_TAIL_MM: f32 = 6.0;
const LONGEST_TAIL: f32 = 0.05;
/// A curve with more gap than this share of its length is no ring: a C or a horseshoe.
const MOST_GAP: f32 = 0.12;
/// Loops in the ink of a letter may be shorter than any ring, mm.
const LEAST_LOOP_MM: f32 = 18.0;
/// So many curves of one piece of ink are measured on the skin.
const MOST_TRIED: usize = 4;

/// The rings inside a line; of nested ones the outer only, largest first.
pub(super) fn rings(
    search: Search<'_>,
    pen: UsualInk,
    line: &PenLine,
    ridge_points: &[RidgePoint],
    dashes: &[Dash],
    job: &Job,
) -> Result<Vec<PenRing>, Cancelled> {
    let graph = search.graph;
    let near_line = SpatialHash::of(CLEAR_OF_LINE_MM, line.centre.iter().copied());
    let Some((_, side_of)) = part(graph, &line.centre, job)? else { return Ok(Vec::new()) };
    let is_inside = |vertex: u32, at: &Point3<f32>| {
        side_of[vertex as usize] == 1 && near_line.within(at, CLEAR_OF_LINE_MM).is_empty()
    };
    let same_ink = |b: &&RidgePoint| b.ink >= SAME_INK * pen.ink && is_inside(b.vertex, &b.at);
    let own: Vec<RidgePoint> = ridge_points.iter().filter(same_ink).copied().collect();
    let is_own_dash =
        |d: &&Dash| d.ink >= SAME_INK * pen.ink && nearest_vertex(graph, &d.at).is_some_and(|v| is_inside(v, &d.at));
    let own_dashes: Vec<Dash> = dashes.iter().filter(is_own_dash).cloned().collect();

    let mut drawn = drawn_in_one(search, pen, &own, job)?;
    for chain in chains(&own_dashes, graph, search.settings, least_round_mm(), job)? {
        drawn.extend(chain.rings.iter().map(|ring| drawn_through(graph, &own_dashes, ring, &chain)));
    }
    let mut found: Vec<(PenRing, Vec<u32>)> = Vec::new();
    for curve in drawn {
        let touches = curve.centre.iter().any(|p| !near_line.within(p, CLEAR_OF_LINE_MM - 1.0).is_empty());
        if !touches && let Some(ring) = completed(search, curve, job)? {
            found.push(ring);
        }
    }
    Ok(outer(search, found))
}

/// Length of a circle round the least area, less a tenth, mm.
fn least_round_mm() -> f32 {
    0.9 * (4.0 * std::f32::consts::PI * *AREAS_MM2.start() as f32).sqrt()
}

/// Closed curves drawn in one stroke, the best of each piece of ink.
fn drawn_in_one(
    search: Search<'_>,
    pen: UsualInk,
    ridge_points: &[RidgePoint],
    job: &Job,
) -> Result<Vec<Drawn>, Cancelled> {
    let Search { graph, inked, settings, .. } = search;
    let spacing_mm = ridge_spacing_mm(graph);
    let mut all = ink_links(ridge_points, graph, inked, spacing_mm, job)?;
    all.extend(gap_links(ridge_points, &all, graph, settings, job)?);
    let forest = SpanningForest::new(ridge_points.len(), &all);
    let mut of_component = vec![Vec::new(); forest.components as usize];
    for link in all {
        of_component[forest.component[link.a as usize] as usize].push(link);
    }
    let mut found = Vec::new();
    for links in of_component {
        job.check()?;
        if links.iter().map(|l| l.length_mm).sum::<f32>() < least_round_mm() {
            continue;
        }
        let trace = Trace { search, pen, ridge_points, links: &links };
        for cycle in plain_cycles(ridge_points, &links, job)?.iter().take(MOST_TRIED) {
            let Ok(drawn) = trace.measure(cycle, *AREAS_MM2.start() as f32, job)? else { continue };
            let gap_mm: f32 = drawn.gaps.iter().map(|g| g.length_mm).sum();
            if gap_mm <= MOST_GAP * drawn.centre.len() as f32 {
                found.push(drawn);
                break;
            }
        }
    }
    Ok(found)
}

/// Cycles without a branch or a chord: those all of ink first, then the larger.
fn plain_cycles(ridge_points: &[RidgePoint], links: &[Link], job: &Job) -> Result<Vec<Vec<u32>>, Cancelled> {
    let forest = SpanningForest::new(ridge_points.len(), links);
    let cycles: Vec<(Vec<u32>, Vec<u32>)> = forest
        .cycles(links, LEAST_LOOP_MM, job)?
        .into_iter()
        .filter_map(|cycle| in_order(&cycle, links).map(|order| (cycle, order)))
        .collect();
    let all_ink = |cycle: &[u32]| cycle.iter().all(|l| !links[*l as usize].gap);
    let mut plain: Vec<(bool, f32, Vec<u32>)> = Vec::new();
    for (k, (cycle, order)) in cycles.iter().enumerate() {
        let crossed = cycles.iter().enumerate().any(|(other, (links, nodes))| {
            other != k && all_ink(links) && nodes.iter().any(|node| order.contains(node))
        });
        let length: f32 = cycle.iter().map(|l| links[*l as usize].length_mm).sum();
        if length >= least_round_mm() && !crossed && !has_tail(ridge_points, links, order) {
            let outline: Vec<Point3<f32>> = order.iter().map(|i| ridge_points[*i as usize].at).collect();
            plain.push((!all_ink(cycle), flat_area(&outline), cycle.clone()));
        }
    }
    plain.sort_by(|x, y| x.0.cmp(&y.0).then(y.1.total_cmp(&x.1)).then_with(|| x.2.cmp(&y.2)));
    Ok(plain.into_iter().map(|(_, _, cycle)| cycle).collect())
}

/// Whether ink leads away from a cycle.
fn has_tail(ridge_points: &[RidgePoint], links: &[Link], order: &[u32]) -> bool {
    let at = |i: u32| ridge_points[i as usize].at;
    let length: f32 = order.windows(2).map(|pair| (at(pair[1]) - at(pair[0])).norm()).sum();
    let most = LONGEST_TAIL_MM.max(LONGEST_TAIL * length);
    let own = SpatialHash::of(most, order.iter().map(|i| at(*i)));
    let mut reached: Vec<u32> = order.to_vec();
    let mut seen = vec![false; ridge_points.len()];
    order.iter().for_each(|i| seen[*i as usize] = true);
    while let Some(here) = reached.pop() {
        for link in links.iter().filter(|l| !l.gap && (l.a == here || l.b == here)) {
            let next = if link.a == here { link.b } else { link.a };
            if !std::mem::replace(&mut seen[next as usize], true) {
                if own.within(&at(next), most).is_empty() {
                    return true;
                }
                reached.push(next);
            }
        }
    }
    false
}

/// A curve with the skin inside it, if that is as large as a ring's.
fn completed(search: Search<'_>, drawn: Drawn, job: &Job) -> Result<Option<(PenRing, Vec<u32>)>, Cancelled> {
    let mut centre = drawn.centre;
    if !runs_left_round(search, &centre) {
        centre.reverse();
    }
    let Some(patch) = patch(search.graph, &centre, *AREAS_MM2.end(), job)? else { return Ok(None) };
    if !AREAS_MM2.contains(&patch.side.area_mm2) {
        return Ok(None);
    }
    let ring = PenRing {
        centre,
        seed_inside: patch.side.middle,
        area_mm2: patch.side.area_mm2,
        width_mm: drawn.width_mm,
        dashes: drawn.dashes.map_or(0, |(count, _)| count),
        gaps_bridged: drawn.gaps,
    };
    Ok(Some((ring, patch.vertices)))
}

/// Whether a small closed line runs anticlockwise, seen from outside the skin.
fn runs_left_round(search: Search<'_>, line: &[Point3<f32>]) -> bool {
    let Some(first) = line.first() else { return false };
    let turn: Vector3<f32> = line.windows(2).map(|w| (w[0] - first).cross(&(w[1] - first))).sum();
    let outward: Vector3<f32> =
        line.iter().filter_map(|p| nearest_vertex(search.graph, p)).map(|v| search.graph.normals[v as usize]).sum();
    turn.dot(&outward) >= 0.0
}

/// Leaves out rings that lie in a larger one or cross it.
fn outer(search: Search<'_>, mut found: Vec<(PenRing, Vec<u32>)>) -> Vec<PenRing> {
    found.sort_by(|x, y| y.0.area_mm2.total_cmp(&x.0.area_mm2));
    let mut covered = vec![false; if found.is_empty() { 0 } else { search.graph.len() }];
    let mut rings = Vec::new();
    for (ring, vertices) in found {
        let is_covered = |p| nearest_vertex(search.graph, p).is_some_and(|v| covered[v as usize]);
        if ring.centre.iter().chain([&ring.seed_inside]).any(is_covered) {
            continue;
        }
        vertices.iter().for_each(|v| covered[*v as usize] = true);
        rings.push(ring);
    }
    rings
}
