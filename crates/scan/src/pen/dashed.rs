//! Measures and judges dashed lines.

use std::collections::BTreeSet;

use mesh::{Cancelled, Job};
use nalgebra::Point3;

use super::closed::{Drawn, enclose};
use super::closing::closing;
use super::dash_chain::{Chain, chains};
use super::dash_curve::curve_through;
use super::dash_leaps::space_mm;
use super::dashes::Dash;
use super::judge::{Found, Search, UsualInk, least_round_mm};
use super::polyline::length;
use super::skin_graph::SkinGraph;
use super::statistics::median;
use super::{BridgedGap, NotClosed, PenFinding, PenLine, Proposal, WhyOpen};

/// An open dashed line is at least this long, mm: a row of moles is shorter.
const LEAST_OPEN_MM: f32 = 80.0;
/// A space between two dashes this much longer than usual is told as a gap, mm.
const TOLD_MM: f32 = 3.0;

/// The best dashed line among some dashes: the closed one that encloses the most skin, or the longest open one.
pub(super) fn dashed(search: Search<'_>, dashes: &[Dash], job: &Job) -> Result<Option<Found>, Cancelled> {
    let chains = chains(dashes, search.graph, search.settings, least_round_mm(search.settings), job)?;
    let mut closed: Option<(PenLine, UsualInk, f32)> = None;
    let mut refused: Vec<Option<NotClosed>> = Vec::new();
    for chain in &chains {
        match closed_line(search, dashes, chain, job)? {
            Ring::Closed(line, ring) => {
                refused.push(None);
                if closed.as_ref().is_none_or(|best| line.area_mm2 > best.0.area_mm2) {
                    closed = Some((line, pen(dashes, &ring), inked_mm(dashes, &ring)));
                }
            }
            Ring::Refused(why) => refused.push(Some(why)),
            Ring::None => refused.push(None),
        }
    }
    if let Some((line, pen, inked_mm)) = closed {
        return Ok(Some(Found { finding: PenFinding::Closed(line), pen, inked_mm }));
    }
    let longest = chains
        .iter()
        .zip(refused)
        .filter(|(chain, _)| !chain.row.is_empty())
        .max_by(|x, y| inked_mm(dashes, &x.0.row).total_cmp(&inked_mm(dashes, &y.0.row)));
    match longest {
        Some((chain, refused)) => open_line(search, dashes, chain, refused, job),
        None => Ok(None),
    }
}

/// What the rings of one chain come to.
enum Ring {
    /// A closed line, through these dashes.
    Closed(PenLine, Vec<u32>),
    Refused(NotClosed),
    None,
}

/// The largest closed line of one chain.
fn closed_line(search: Search<'_>, dashes: &[Dash], chain: &Chain, job: &Job) -> Result<Ring, Cancelled> {
    let mut refused = None;
    let mut closed: Vec<(PenLine, &Vec<u32>)> = Vec::new();
    for ring in &chain.rings {
        let drawn = drawn_through(search.graph, dashes, ring, chain);
        let pen = pen(dashes, ring);
        match enclose(search.graph, (search.kind, pen), search.settings, drawn, job)? {
            Ok(line) => closed.push((line, ring)),
            Err(why) => {
                refused.get_or_insert(why);
            }
        }
    }
    closed.sort_by(|x, y| y.0.area_mm2.total_cmp(&x.0.area_mm2));
    let mut closed = closed.into_iter();
    let Some((line, ring)) = closed.next() else { return Ok(refused.map_or(Ring::None, Ring::Refused)) };
    if closed.any(|(other, way)| is_another_way((&line, ring), (&other, way))) {
        return Ok(Ring::Refused(NotClosed::ManyWays));
    }
    Ok(Ring::Closed(line, ring.clone()))
}

/// Whether two rings of the same dashes differ so much that only whoever drew them knows which one is meant.
fn is_another_way(best: (&PenLine, &[u32]), other: (&PenLine, &[u32])) -> bool {
    let own: BTreeSet<&u32> = best.1.iter().collect();
    let shared = other.1.iter().filter(|d| own.contains(d)).count();
    let share = shared as f32 / best.1.len().min(other.1.len()) as f32;
    let area = other.0.area_mm2 / best.0.area_mm2;
    share > 0.2 && (0.1..0.9).contains(&area)
}

/// The longest row of one chain as an open line, with a proposal to close it.
fn open_line(
    search: Search<'_>,
    dashes: &[Dash],
    chain: &Chain,
    refused: Option<NotClosed>,
    job: &Job,
) -> Result<Option<Found>, Cancelled> {
    let graph = search.graph;
    let row: Vec<&Dash> = chain.row.iter().map(|d| &dashes[*d as usize]).collect();
    let line = curve_through(graph, &row, false);
    let (Some(first), Some(last)) = (line.first().copied(), line.last().copied()) else { return Ok(None) };
    if length(&line) < LEAST_OPEN_MM {
        return Ok(None);
    }
    let ends_off_scan = [first, last].iter().filter(|p| graph.is_at_end_of_scan(p)).count();
    let gap_mm = (last - first).norm();
    // The ends look at each other over a gap, unless the line is no ring at all.
    let wide = (ends_off_scan == 0 && gap_mm < 0.3 * length(&line)).then_some(NotClosed::WideGap { length_mm: gap_mm });
    let why = WhyOpen { ends_off_scan, refused: refused.or(wide) };
    let pen = pen(dashes, &chain.row);
    // Where the dashes can be joined in several ways, a proposal would be a guess.
    let proposal = match refused {
        Some(NotClosed::ManyWays) => None,
        _ => closing(graph, &line, search.settings.min_area_mm2, job)?,
    };
    let proposal = match proposal {
        Some(c) => {
            let drawn = Drawn {
                centre: c.ring,
                width_mm: median(row.iter().map(|d| d.width_mm)),
                gaps: Vec::new(),
                dashes: Some(count_and_length(dashes, &chain.row)),
                confidence: 0.3,
            };
            let closed = enclose(graph, (search.kind, pen), search.settings, drawn, job)?.ok();
            closed.map(|line| Proposal { line, added: c.added, added_mm: c.added_mm })
        }
        None => None,
    };
    let finding = PenFinding::Open { line, ends: [first, last], proposal, why };
    Ok(Some(Found { finding, pen, inked_mm: inked_mm(dashes, &chain.row) }))
}

/// The closed curve through a ring of dashes.
pub(super) fn drawn_through(graph: &SkinGraph, dashes: &[Dash], ring: &[u32], chain: &Chain) -> Drawn {
    let row: Vec<&Dash> = ring.iter().map(|d| &dashes[*d as usize]).collect();
    let centre = curve_through(graph, &row, true);
    let gaps = gaps(graph, &row, &centre, chain.space_mm);
    let confidence = (inked_mm(dashes, ring) / centre.len().max(1) as f32).min(1.0);
    let width_mm = median(row.iter().map(|d| d.width_mm));
    Drawn { centre, width_mm, gaps, dashes: Some(count_and_length(dashes, ring)), confidence }
}

/// Spaces in a ring that are longer than usual, each with its middle on the curve.
fn gaps(graph: &SkinGraph, ring: &[&Dash], curve: &[Point3<f32>], usual_mm: f32) -> Vec<BridgedGap> {
    let n = ring.len();
    let nearest = |p: &Point3<f32>| {
        let far = |k: &usize| (curve[*k] - p).norm_squared();
        (0..curve.len()).min_by(|a, b| far(a).total_cmp(&far(b))).unwrap_or(0)
    };
    let mut gaps = Vec::new();
    for k in 0..n {
        let (from, to) = (ring[k], ring[(k + 1) % n]);
        let length_mm = space_mm(from, to);
        if from.stroke != to.stroke && length_mm > usual_mm + TOLD_MM {
            let (start, end) = (nearest(&from.at), nearest(&to.at));
            let steps = (end + curve.len() - start) % curve.len();
            let at = curve[(start + steps / 2) % curve.len()];
            let over_hole = graph.surface.nearest(&at, None).is_none_or(|hit| graph.is_unseen(&hit));
            gaps.push(BridgedGap { at, length_mm, over_hole });
        }
    }
    gaps
}

/// Lengths of the strokes of a row; a stroke may be cut into pieces.
fn stroke_lengths(dashes: &[Dash], row: &[u32]) -> Vec<f32> {
    let mut lengths = std::collections::BTreeMap::<u32, f32>::new();
    for d in row {
        let dash = &dashes[*d as usize];
        *lengths.entry(dash.stroke).or_default() += dash.length_mm;
    }
    lengths.into_values().collect()
}

fn count_and_length(dashes: &[Dash], row: &[u32]) -> (usize, f32) {
    let lengths = stroke_lengths(dashes, row);
    (lengths.len(), median(lengths))
}

fn inked_mm(dashes: &[Dash], row: &[u32]) -> f32 {
    stroke_lengths(dashes, row).iter().sum()
}

fn pen(dashes: &[Dash], row: &[u32]) -> UsualInk {
    let of = |value: fn(&Dash) -> f32| median(row.iter().map(|d| value(&dashes[*d as usize])));
    UsualInk { ink: of(|d| d.ink), spread: of(|d| d.spread) }
}
