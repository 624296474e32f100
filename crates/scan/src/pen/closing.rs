//! Where an open line could be closed.

use mesh::{Cancelled, FloodRange, Job, flood};
use nalgebra::Point3;

use super::polyline::{flat_area, lay_on_skin, length, resample, smooth};
use super::skin_graph::SkinGraph;

/// A ring made of a part of an open line and an added piece, and that piece alone.
pub(super) struct Closing {
    pub ring: Vec<Point3<f32>>,
    pub added: Vec<Point3<f32>>,
    pub added_mm: f32,
}

/// A closed line must use at least this much of the ink, mm.
const LEAST_INK_MM: f32 = 60.0;

/// A line is closed at least this far from where the scan ends, mm: the guard's rim needs skin under it.
const CLEAR_OF_END_MM: f32 = 8.0;
/// A path nearer to an end of the scan counts as this many times longer.
const NEAR_END_COST: f32 = 20.0;

/// The shortest sensible path to close a line: end to end, or one end to another part of the line if that is much
/// nearer.
pub(super) fn closing(
    graph: &SkinGraph,
    line: &[Point3<f32>],
    least_area_mm2: f32,
    job: &Job,
) -> Result<Option<Closing>, Cancelled> {
    let near_end = near_end_of_scan(graph, job)?;
    let line = within_the_scan(graph, &near_end, line);
    let Some(last) = line.len().checked_sub(1) else { return Ok(None) };
    let fits = |a: usize, b: usize| {
        let part = &line[a..=b];
        length(part) >= LEAST_INK_MM && flat_area(part) >= 0.8 * least_area_mm2
    };
    let gap = |a: usize, b: usize| (line[a] - line[b]).norm();
    let end_to_end = fits(0, last).then_some((0, last));
    // From either end to the point of the line that is nearest among those far enough along it.
    let to_itself = (0..=last)
        .flat_map(|k| [(0, k), (k, last)])
        .filter(|(a, b)| b - a > LEAST_INK_MM as usize)
        .min_by(|x, y| gap(x.0, x.1).total_cmp(&gap(y.0, y.1)))
        .filter(|(a, b)| fits(*a, *b));
    let (a, b) = match (end_to_end, to_itself) {
        (Some(e), Some(t)) => {
            if gap(t.0, t.1) < 0.6 * gap(e.0, e.1) {
                t
            } else {
                e
            }
        }
        (Some(e), None) => e,
        (None, Some(t)) => t,
        (None, None) => return Ok(None),
    };
    let cost = |v: u32| if near_end[v as usize] { NEAR_END_COST } else { 1.0 };
    let Some(added) = path_over_skin(graph, [&line[b], &line[a]], &cost, job)? else { return Ok(None) };
    let mut ring = line[a..=b].to_vec();
    ring.extend_from_slice(&added[1..added.len() - 1]);
    let added_mm = length(&added);
    Ok(Some(Closing { ring: resample(&ring, true), added, added_mm }))
}

/// Which vertices lie near an end of the scan, measured over the skin.
fn near_end_of_scan(graph: &SkinGraph, job: &Job) -> Result<Vec<bool>, Cancelled> {
    let ends: Vec<u32> = (0..graph.len() as u32).filter(|v| graph.end_of_scan[*v as usize]).collect();
    let range = FloodRange { from: &ends, reach: CLEAR_OF_END_MM, goal: None };
    let near = flood(graph.len(), range, |v| graph.edges(v), job)?;
    Ok(near.distance.into_iter().map(f32::is_finite).collect())
}

/// The line without what lies near an end of the scan at either of its ends.
fn within_the_scan<'a>(graph: &SkinGraph, near_end: &[bool], line: &'a [Point3<f32>]) -> &'a [Point3<f32>] {
    let clear = |p: &Point3<f32>| {
        let Some(hit) = graph.surface.nearest(p, None) else { return false };
        graph.surface.mesh().triangles[hit.triangle as usize].iter().all(|v| !near_end[*v as usize])
    };
    match (line.iter().position(clear), line.iter().rposition(clear)) {
        (Some(first), Some(last)) => &line[first..=last],
        _ => &[],
    }
}

/// A short smooth path over the skin between two of its points: Dijkstra's shortest path along edges, where a step to a
/// vertex counts `cost` times its length, pulled tight. `None` if the skin does not join them.
fn path_over_skin(
    graph: &SkinGraph,
    [from, to]: [&Point3<f32>; 2],
    cost: &dyn Fn(u32) -> f32,
    job: &Job,
) -> Result<Option<Vec<Point3<f32>>>, Cancelled> {
    let (Some(start), Some(goal)) = (graph.nearest_vertex(from), graph.nearest_vertex(to)) else { return Ok(None) };
    let range = FloodRange { from: &[start], reach: f32::INFINITY, goal: Some(goal) };
    let edges = |v: u32| graph.edges(v).map(|(w, length)| (w, length * cost(w)));
    let Some(vertices) = flood(graph.len(), range, edges, job)?.way_to(goal) else { return Ok(None) };
    let mut path = vec![*from];
    path.extend(vertices.into_iter().map(|v| graph.point(v)));
    path.push(*to);
    // Edges zigzag; pulling the path tight on the skin makes it nearly the shortest.
    for _ in 0..12 {
        path = resample(&path, false);
        for _ in 0..5 {
            smooth(&mut path, false, 0.5);
        }
        lay_on_skin(graph, &mut path);
    }
    Ok(Some(path))
}
