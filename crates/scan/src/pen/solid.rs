//! Lines drawn in one, closed or open.

use mesh::{Cancelled, Job};

use super::cycles::SpanningForest;
use super::judge::{Found, LEAST_INK, LEAST_STANDING_OUT, SAME_INK, Search, UsualInk, least_round_mm};
use super::links::{Link, gap_links, ink_links};
use super::polyline::length;
use super::ridge::{RidgePoint, ridge_spacing_mm};
use super::rings::is_ring_in;
use super::statistics::median;
use super::trace::{LEAST_LINE_MM, Trace};
use super::{NoLine, PenFinding, PenLine};

/// The closed line that encloses the most skin, or the longest open one; the inner error says why there is none.
pub(super) fn solid(
    search: Search<'_>,
    ridge_points: &[RidgePoint],
    job: &Job,
) -> Result<Result<Found, NoLine>, Cancelled> {
    let Search { graph, inked, settings, .. } = search;
    let spacing = ridge_spacing_mm(graph);
    let Some(pen) = usual_ink(ridge_points, &ink_links(ridge_points, graph, inked, spacing, job)?, job)? else {
        return Ok(Err(NoLine::NoInk));
    };
    let kept: Vec<RidgePoint> = ridge_points.iter().filter(|b| b.ink >= SAME_INK * pen.ink).copied().collect();
    let mut links = ink_links(&kept, graph, inked, spacing, job)?;
    links.extend(gap_links(&kept, &links, graph, settings, job)?);
    let forest = SpanningForest::new(kept.len(), &links);
    let trace = Trace { search, pen, ridge_points: &kept, links: &links };

    let mut refused = None;
    let mut closed: Vec<(PenLine, Vec<u32>)> = Vec::new();
    for ring in forest.cycles(&links, least_round_mm(settings), job)? {
        match trace.ring(&ring, job)? {
            Ok(line) => closed.push((line, ring)),
            Err(why) => {
                refused.get_or_insert(why);
            }
        }
    }
    job.step("Following the ink", 0.8)?;
    let most_ink = trace.most_ink(&forest);
    let Some((line, ring)) = largest(closed) else {
        let Some((component, inked_mm)) = most_ink else { return Ok(Err(NoLine::OnlyStrokes)) };
        let open = trace.open(&forest, component, refused, job)?;
        return Ok(open.map(|finding| Found { finding, pen, inked_mm }).ok_or(NoLine::OnlyStrokes));
    };
    // A closed curve may be a ring inside a longer line that does not close.
    let own = ring.first().map(|l| forest.component[links[*l as usize].a as usize]);
    if let Some((component, inked_mm)) = most_ink.filter(|(component, _)| Some(*component) != own)
        && let Some(open) = trace.open(&forest, component, refused, job)?
        && is_ring_in(graph, &line, &open, job)?
    {
        return Ok(Ok(Found { finding: open, pen, inked_mm }));
    }
    let inked_mm = line.centre.len() as f32;
    Ok(Ok(Found { finding: PenFinding::Closed(line), pen, inked_mm }))
}

/// The line that encloses the most skin, with its links; the others that share little of it are named in it.
fn largest(mut closed: Vec<(PenLine, Vec<u32>)>) -> Option<(PenLine, Vec<u32>)> {
    closed.sort_by(|x, y| y.0.area_mm2.total_cmp(&x.0.area_mm2));
    let mut closed = closed.into_iter();
    let (mut line, ring) = closed.next()?;
    line.others = closed
        .filter(|(_, other)| other.iter().filter(|l| ring.binary_search(l).is_ok()).count() * 5 < other.len())
        .map(|(other, _)| other.centre)
        .collect();
    Some((line, ring))
}

fn usual_ink(ridge_points: &[RidgePoint], links: &[Link], job: &Job) -> Result<Option<UsualInk>, Cancelled> {
    let forest = SpanningForest::new(ridge_points.len(), links);
    let mut of_component: Vec<Vec<u32>> = vec![Vec::new(); forest.components as usize];
    for (i, component) in forest.component.iter().enumerate() {
        of_component[*component as usize].push(i as u32);
    }
    let mut best: Option<(f32, UsualInk)> = None;
    for (component, members) in of_component.iter().enumerate().filter(|(_, m)| m.len() >= 5) {
        job.check()?;
        let path = forest.longest_path(component as u32, links);
        let long = length(&path.iter().map(|i| ridge_points[*i as usize].at).collect::<Vec<_>>());
        let pen = UsualInk {
            ink: median(members.iter().map(|i| ridge_points[*i as usize].ink)),
            spread: median(members.iter().map(|i| ridge_points[*i as usize].spread)),
        };
        let strong = pen.ink >= LEAST_INK && pen.ink >= LEAST_STANDING_OUT * pen.spread;
        if strong && long >= 0.5 * LEAST_LINE_MM && best.is_none_or(|b| long * pen.ink > b.0) {
            best = Some((long * pen.ink, pen));
        }
    }
    Ok(best.map(|b| b.1))
}
