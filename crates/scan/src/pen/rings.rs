//! Rings drawn inside the pen line, round a bony point or a wound.

use mesh::{Cancelled, Job, SpatialHash};
use nalgebra::{Point3, Vector3};

use super::closed::Drawn;
use super::cycles::{SpanningForest, in_order};
use super::dash_chain::chains;
use super::dashed::drawn_through;
use super::dashes::Dash;
use super::inside::{part, patch};
use super::judge::{SAME_INK, Search, UsualInk};
use super::links::{Link, gap_links, ink_links, neighbours};
use super::ridge::{RidgePoint, ridge_spacing_mm};
use super::skin_graph::SkinGraph;
use super::statistics::median;
use super::trace::Trace;
use super::{PenFinding, PenLine, PenRing};

/// What a ring encloses, mm²: less is a letter or a spot, more is another region.
const AREAS_MM2: std::ops::RangeInclusive<f64> = 100.0..=6000.0;
/// A ring keeps this far from the pen line, from middle to middle of the ink, mm: nearer is the same line drawn twice.
const CLEAR_OF_LINE_MM: f32 = 6.0;
/// Ink at a ring that leads farther away from it makes it a letter or a cross, mm; or this share of its length.
const LONGEST_TAIL_MM: f32 = 6.0;
const LONGEST_TAIL: f32 = 0.05;
/// Ink paler than this share of a ring's own is no part of it.
const TAIL_INK: f32 = 0.6;
/// A curve with more gap than this share of its length is no ring: a C or a horseshoe.
const MOST_GAP: f32 = 0.12;
/// Loops in the ink of a letter may be shorter than any ring, mm.
const LEAST_LOOP_MM: f32 = 18.0;

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
    let Some(parted) = part(graph, &line.centre, job)? else { return Ok(Vec::new()) };
    let is_inside = |vertex: u32, at: &Point3<f32>| {
        parted.side_of[vertex as usize] == 1 && near_line.within(at, CLEAR_OF_LINE_MM).is_empty()
    };
    let same_ink = |b: &&RidgePoint| b.ink >= SAME_INK * pen.ink && is_inside(b.vertex, &b.at);
    let own: Vec<RidgePoint> = ridge_points.iter().filter(same_ink).copied().collect();
    let is_own_dash =
        |d: &&Dash| d.ink >= SAME_INK * pen.ink && graph.nearest_vertex(&d.at).is_some_and(|v| is_inside(v, &d.at));
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

/// Whether a closed line is of the size of a ring and lies inside what an open line would enclose once closed.
pub(super) fn is_ring_in(graph: &SkinGraph, line: &PenLine, open: &PenFinding, job: &Job) -> Result<bool, Cancelled> {
    let PenFinding::Open { proposal: Some(proposal), .. } = open else { return Ok(false) };
    let around = &proposal.line;
    if !AREAS_MM2.contains(&line.area_mm2) || line.area_mm2 >= around.area_mm2 {
        return Ok(false);
    }
    Ok(part(graph, &around.centre, job)?.is_some_and(|parted| parted.all_on_left(graph, &line.centre)))
}

/// Length of a circle round the least area, less a tenth, mm.
fn least_round_mm() -> f32 {
    0.9 * (4.0 * std::f32::consts::PI * *AREAS_MM2.start() as f32).sqrt()
}

/// Closed curves drawn in one stroke: first those all of ink, then, of the other ink, those over short gaps.
fn drawn_in_one(
    search: Search<'_>,
    pen: UsualInk,
    ridge_points: &[RidgePoint],
    job: &Job,
) -> Result<Vec<Drawn>, Cancelled> {
    let Search { graph, inked, settings, .. } = search;
    let ink = ink_links(ridge_points, graph, inked, ridge_spacing_mm(graph), job)?;
    let loops = cycles_of_components(ridge_points.len(), &ink, LEAST_LOOP_MM, job)?;
    // How many loops of ink run through each point: where two meet, they make a letter.
    let mut loops_at = vec![0; ridge_points.len()];
    for i in loops.iter().flat_map(|cycle| &cycle.order) {
        loops_at[*i as usize] += 1;
    }
    let mut curves = Curves { trace: Trace { search, pen, ridge_points, links: &ink }, ink: &ink, found: Vec::new() };
    let mut used = vec![false; ridge_points.len()];
    for cycle in &loops {
        if cycle.order.iter().all(|i| loops_at[*i as usize] == 1) {
            curves.try_cycle(cycle, &mut used, job)?;
        }
    }
    let mut links = gap_links(ridge_points, &ink, graph, settings, job)?;
    links.extend(&ink);
    links.retain(|l| !used[l.a as usize] && !used[l.b as usize]);
    curves.trace.links = &links;
    for cycle in &cycles_of_components(ridge_points.len(), &links, least_round_mm(), job)? {
        if cycle.order.iter().all(|i| loops_at[*i as usize] == 0) {
            curves.try_cycle(cycle, &mut used, job)?;
        }
    }
    Ok(curves.found)
}

/// A cycle of links in rising order, and its ridge points in turn.
struct Cycle {
    links: Vec<u32>,
    order: Vec<u32>,
}

/// The cycles of each connected part of a graph.
fn cycles_of_components(nodes: usize, links: &[Link], least_mm: f32, job: &Job) -> Result<Vec<Cycle>, Cancelled> {
    let forest = SpanningForest::new(nodes, links);
    let mut of_component = vec![Vec::new(); forest.components as usize];
    for (number, link) in links.iter().enumerate() {
        of_component[forest.component[link.a as usize] as usize].push(number as u32);
    }
    let mut cycles = Vec::new();
    for numbers in of_component {
        let own: Vec<Link> = numbers.iter().map(|l| links[*l as usize]).collect();
        if own.iter().map(|l| l.length_mm).sum::<f32>() < least_mm {
            continue;
        }
        for cycle in SpanningForest::new(nodes, &own).cycles(&own, least_mm, job)? {
            let Some(order) = in_order(&cycle, &own) else { continue };
            cycles.push(Cycle { links: cycle.iter().map(|l| numbers[*l as usize]).collect(), order });
        }
    }
    Ok(cycles)
}

/// Closed curves found so far.
struct Curves<'a> {
    trace: Trace<'a>,
    ink: &'a [Link],
    found: Vec<Drawn>,
}

impl Curves<'_> {
    /// Adds the curve along a cycle if it is a ring's, and takes its ridge points.
    fn try_cycle(&mut self, cycle: &Cycle, used: &mut [bool], job: &Job) -> Result<(), Cancelled> {
        let length: f32 = cycle.links.iter().map(|l| self.trace.links[*l as usize].length_mm).sum();
        let taken = cycle.order.iter().any(|i| used[*i as usize]);
        if length < least_round_mm() || taken || has_tail(self.trace.ridge_points, self.ink, &cycle.order) {
            return Ok(());
        }
        let Ok(drawn) = self.trace.measure(&cycle.links, *AREAS_MM2.start() as f32, job)? else { return Ok(()) };
        let gap_mm: f32 = drawn.gaps.iter().map(|g| g.length_mm).sum();
        if gap_mm <= MOST_GAP * drawn.centre.len() as f32 {
            cycle.order.iter().for_each(|i| used[*i as usize] = true);
            self.found.push(drawn);
        }
        Ok(())
    }
}

/// Whether ink as dark as a cycle's own leads away from it. A crease or a vein that crosses it is paler.
fn has_tail(ridge_points: &[RidgePoint], ink: &[Link], order: &[u32]) -> bool {
    let at = |i: u32| ridge_points[i as usize].at;
    let length: f32 = order.windows(2).map(|pair| (at(pair[1]) - at(pair[0])).norm()).sum();
    let most = LONGEST_TAIL_MM.max(LONGEST_TAIL * length);
    let least_ink = TAIL_INK * median(order.iter().map(|i| ridge_points[*i as usize].ink));
    let own = SpatialHash::of(most, order.iter().map(|i| at(*i)));
    let neighbours = neighbours(ridge_points.len(), ink);
    let mut reached: Vec<u32> = order.to_vec();
    let mut seen = vec![false; ridge_points.len()];
    order.iter().for_each(|i| seen[*i as usize] = true);
    while let Some(here) = reached.pop() {
        for (next, _) in &neighbours[here as usize] {
            let same = ridge_points[*next as usize].ink >= least_ink;
            if same && !std::mem::replace(&mut seen[*next as usize], true) {
                if own.within(&at(*next), most).is_empty() {
                    return true;
                }
                reached.push(*next);
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
        line.iter().filter_map(|p| search.graph.nearest_vertex(p)).map(|v| search.graph.normals[v as usize]).sum();
    turn.dot(&outward) >= 0.0
}

/// Leaves out rings that lie in a larger one or cross it.
fn outer(search: Search<'_>, mut found: Vec<(PenRing, Vec<u32>)>) -> Vec<PenRing> {
    found.sort_by(|x, y| y.0.area_mm2.total_cmp(&x.0.area_mm2));
    let mut covered = vec![false; if found.is_empty() { 0 } else { search.graph.len() }];
    let mut rings = Vec::new();
    for (ring, vertices) in found {
        let is_covered = |p| search.graph.nearest_vertex(p).is_some_and(|v| covered[v as usize]);
        if ring.centre.iter().chain([&ring.seed_inside]).any(is_covered) {
            continue;
        }
        vertices.iter().for_each(|v| covered[*v as usize] = true);
        rings.push(ring);
    }
    rings
}
