//! Decides whether the ridge points of one kind of ink make a closed line, an open one or none.

use mesh::{Cancelled, Job};

use super::contrast::Contrast;
use super::cycles::SpanningForest;
use super::links::{Link, gap_links, ink_links};
use super::polyline::length;
use super::ridge::{RidgePoint, ridge_points, ridge_spacing_mm};
use super::skin_graph::SkinGraph;
use super::statistics::median;
use super::trace::{LEAST_LINE_MM, Trace};
use super::{Ink, NoLine, PenFinding, PenLine, PenSettings};

/// Ink must differ from the skin by this much of the skin's lightness.
const LEAST_INK: f32 = 0.15;
/// Ink must stand out this many times the usual spread of the skin.
const LEAST_STANDING_OUT: f32 = 4.0;
/// Ink paler than this share of the line's usual ink is not taken for the same pen.
const SAME_INK: f32 = 0.4;

/// What one kind of ink gave, and how much it counts against the other kinds.
pub(super) struct Judged {
    pub finding: PenFinding,
    pub rank: (u8, f32),
}

/// Searches for a pen line in one kind of ink.
pub(super) fn judge(
    graph: &SkinGraph,
    contrast: &Contrast,
    ink: Ink,
    settings: &PenSettings,
    job: &Job,
) -> Result<Judged, Cancelled> {
    let inked = &contrast.value;
    let all = ridge_points(graph, inked, &contrast.spread, job)?;
    job.step("Following the ink", 0.5)?;
    let none = |why| Judged { finding: PenFinding::None { why }, rank: (0, 0.0) };

    let spacing = ridge_spacing_mm(graph);
    let Some(pen) = usual_ink(&all, &ink_links(&all, graph, inked, spacing, job)?, job)? else {
        return Ok(none(NoLine::NoInk));
    };
    let kept: Vec<RidgePoint> = all.into_iter().filter(|b| b.ink >= SAME_INK * pen.ink).collect();
    let mut links = ink_links(&kept, graph, inked, spacing, job)?;
    links.extend(gap_links(&kept, &links, graph, settings, job)?);
    let forest = SpanningForest::new(kept.len(), &links);
    let trace = Trace { graph, inked, kind: ink, pen, settings, ridge_points: &kept, links: &links };

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
    job.step("Following the ink", 0.9)?;
    let strength = pen.ink / pen.spread;
    if let Some(line) = largest(closed) {
        return Ok(Judged { finding: PenFinding::Closed(line), rank: (2, strength) });
    }
    match trace.open(&forest, refused, job)? {
        Some((finding, inked_mm)) => Ok(Judged { finding, rank: (1, strength * inked_mm) }),
        None => Ok(none(NoLine::OnlyStrokes)),
    }
}

/// The line that encloses the most skin; the others that share little of it are named in it.
fn largest(mut closed: Vec<(PenLine, Vec<u32>)>) -> Option<PenLine> {
    closed.sort_by(|x, y| y.0.area_mm2.total_cmp(&x.0.area_mm2));
    let mut closed = closed.into_iter();
    let (mut line, ring) = closed.next()?;
    line.others = closed
        .filter(|(_, other)| other.iter().filter(|l| ring.binary_search(l).is_ok()).count() * 5 < other.len())
        .map(|(other, _)| other.centre)
        .collect();
    if !line.others.is_empty() {
        let (n, s) = (line.others.len(), if line.others.len() == 1 { "" } else { "s" });
        line.sentence += &format!(" {n} smaller closed line{s} left aside.");
    }
    Some(line)
}

/// Least length of a ring, mm: that of a circle round the least area, less a tenth.
fn least_round_mm(settings: &PenSettings) -> f32 {
    (4.0 * std::f32::consts::PI * settings.min_area_mm2.max(1.0)).sqrt() * 0.9
}

/// The contrast of the strongest long line, and the spread of the skin along it.
#[derive(Debug, Clone, Copy)]
pub(super) struct UsualInk {
    pub ink: f32,
    pub spread: f32,
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
