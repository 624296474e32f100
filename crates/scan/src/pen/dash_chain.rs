//! Which dashes follow each other on one dashed line.

use std::collections::BTreeSet;

use mesh::{Cancelled, Job, SpatialHash};
use nalgebra::Vector3;

use super::PenSettings;
use super::cycles::{SpanningForest, in_order};
use super::dashes::Dash;
use super::links::{Link, share_over_hole};
use super::skin_graph::SkinGraph;
use super::statistics::median;

/// A dashed line has at least this many strokes; fewer may be moles in a row.
pub(super) const LEAST_STROKES: usize = 6;
/// The longest space between two dashes of a drawn line, mm.
const MOST_SPACE_MM: f32 = 14.0;
/// Spaces up to this many times the usual one are left by an unsteady hand.
const UNEVEN: f32 = 1.5;
/// Strokes of one line are as long, wide and dark as the usual one within these factors.
const LENGTHS: std::ops::RangeInclusive<f32> = 0.4..=2.5;
const WIDTHS: std::ops::RangeInclusive<f32> = 0.55..=1.8;
const INKS: std::ops::RangeInclusive<f32> = 0.5..=2.0;
/// Dashes point along their line by at least so many standard deviations more than spots at random would. Rows of moles
/// come to 2.4 at most, six slender dashes to 2.9, twenty-four that are hardly longer than wide to 4.
const LEAST_ALONG: f32 = 2.7;
/// Cosine of the sharpest turn at a dash: a little more than a right angle.
const SHARPEST_TURN: f32 = -0.17;
/// Dashes that hang together.
pub(super) struct Chain {
    /// Rings of dashes in order, each by its numbers, the likeliest first.
    pub rings: Vec<Vec<u32>>,
    /// The longest row of dashes; empty where none is a line.
    pub row: Vec<u32>,
    /// The usual space between two dashes, mm.
    pub space_mm: f32,
}

/// Where a dash is lost in a hole, this share of the space that it leaves is hole; the rest is bare skin on both sides.
const LEAST_OVER_HOLE: f32 = 0.35;
/// The ink of a dash fades out over about half of this at its tip, mm.
const HOLE_SLACK_MM: f32 = 2.0;

/// A way from one dash to the next.
struct Leap {
    link: Link,
    space_mm: f32,
    /// It leads over a hole of the scan.
    over_hole: bool,
}

/// The dashed lines among `dashes`; a ring is at least `least_mm` long.
pub(super) fn chains(
    dashes: &[Dash],
    graph: &SkinGraph,
    settings: &PenSettings,
    least_mm: f32,
    job: &Job,
) -> Result<Vec<Chain>, Cancelled> {
    let all: Vec<u32> = (0..dashes.len() as u32).collect();
    let leaps = leaps(dashes, &all, graph, settings, job)?;
    let mut chains = Vec::new();
    for members in groups(dashes, &leaps) {
        job.check()?;
        let members = alike(dashes, &members);
        if strokes(dashes, &members) < LEAST_STROKES {
            continue;
        }
        let leaps = self::leaps(dashes, &members, graph, settings, job)?;
        let space_mm = usual_space(&leaps);
        let most_space_mm = settings.max_gap_mm.max(UNEVEN * space_mm);
        let links: Vec<Link> = leaps
            .into_iter()
            .filter(|leap| leap.over_hole || leap.space_mm <= most_space_mm)
            .map(|leap| leap.link)
            .chain(within_strokes(dashes, &members))
            .collect();
        let forest = SpanningForest::new(dashes.len(), &links);
        let rings: Vec<Vec<u32>> = forest
            .cycles(&links, least_mm, job)?
            .iter()
            .filter_map(|cycle| in_order(cycle, &links))
            .map(|ring| without_strays(dashes, ring, true, UNEVEN * space_mm))
            .filter(|ring| is_line(dashes, ring, true))
            .collect();
        let row = longest_row(dashes, &forest, &links, &members, UNEVEN * space_mm);
        chains.push(Chain { rings, row, space_mm });
    }
    Ok(chains)
}

/// The longest way through the trees of links between dashes.
fn longest_row(dashes: &[Dash], forest: &SpanningForest, links: &[Link], members: &[u32], usual_mm: f32) -> Vec<u32> {
    let trees: BTreeSet<u32> = members.iter().map(|m| forest.component[*m as usize]).collect();
    let rows = trees.into_iter().map(|tree| without_strays(dashes, forest.longest_path(tree, links), false, usual_mm));
    let lines = rows.filter(|row| is_line(dashes, row, false));
    lines.max_by_key(|row| strokes(dashes, row)).unwrap_or_default()
}

/// The dashes that any way joins, in groups large enough for a line.
fn groups(dashes: &[Dash], leaps: &[Leap]) -> Vec<Vec<u32>> {
    let all: Vec<u32> = (0..dashes.len() as u32).collect();
    let links: Vec<Link> = leaps.iter().map(|leap| leap.link).chain(within_strokes(dashes, &all)).collect();
    let forest = SpanningForest::new(dashes.len(), &links);
    let mut groups = vec![Vec::new(); forest.components as usize];
    for (dash, component) in forest.component.iter().enumerate() {
        groups[*component as usize].push(dash as u32);
    }
    groups.retain(|members| strokes(dashes, members) >= LEAST_STROKES);
    groups
}

fn strokes(dashes: &[Dash], members: &[u32]) -> usize {
    members.iter().map(|m| dashes[*m as usize].stroke).collect::<BTreeSet<_>>().len()
}

/// The members that one pen may have drawn, without moles and stray marks.
fn alike(dashes: &[Dash], members: &[u32]) -> Vec<u32> {
    let usual = |of: fn(&Dash) -> f32| median(members.iter().map(|m| of(&dashes[*m as usize])));
    let (length, width, ink) = (usual(|d| d.length_mm), usual(|d| d.width_mm), usual(|d| d.ink));
    let is_alike = |m: &u32| {
        let d = &dashes[*m as usize];
        // A piece of a longer stroke is as long as it was cut.
        (d.piece.1 > 1 || LENGTHS.contains(&(d.length_mm / length)))
            && WIDTHS.contains(&(d.width_mm / width))
            && INKS.contains(&(d.ink / ink))
    };
    members.iter().copied().filter(is_alike).collect()
}

/// Links between the pieces of each stroke.
fn within_strokes<'a>(dashes: &'a [Dash], members: &'a [u32]) -> impl Iterator<Item = Link> + 'a {
    members.windows(2).filter_map(|pair| {
        let [a, b] = [pair[0], pair[1]];
        let (one, next) = (&dashes[a as usize], &dashes[b as usize]);
        let length_mm = (next.at - one.at).norm();
        (one.stroke == next.stroke && one.piece.0 + 1 == next.piece.0).then_some(Link {
            a,
            b,
            length_mm,
            cost: length_mm,
            gap: false,
        })
    })
}

/// Ways from each dash to those ahead of it, at either end the three best.
fn leaps(
    dashes: &[Dash],
    members: &[u32],
    graph: &SkinGraph,
    settings: &PenSettings,
    job: &Job,
) -> Result<Vec<Leap>, Cancelled> {
    const MOST_FROM_AN_END: usize = 3;
    let far = MOST_SPACE_MM.max(settings.max_gap_mm).max(settings.max_hole_mm);
    let longest = members.iter().map(|m| dashes[*m as usize].length_mm).fold(0.0, f32::max);
    let near = SpatialHash::of(far + longest, members.iter().map(|m| dashes[*m as usize].at));
    let mut leaps = Vec::new();
    for &a in members {
        job.check()?;
        let from = &dashes[a as usize];
        let mut ahead: [Vec<Leap>; 2] = [Vec::new(), Vec::new()];
        for k in near.candidates(&from.at) {
            let b = members[k as usize];
            let to = &dashes[b as usize];
            let d = to.at - from.at;
            if from.stroke == to.stroke || from.normal.dot(&to.normal) < 0.0 || d.norm() < 1e-3 {
                continue;
            }
            let way = d.normalize();
            let (Some(leave), Some(meet)) = (turning(from, &way), turning(to, &-way)) else { continue };
            let space_mm = space_mm(from, to);
            let straight = leave + meet < 0.5;
            let over_hole = space_mm > MOST_SPACE_MM.min(settings.max_gap_mm)
                && space_mm <= settings.max_hole_mm + HOLE_SLACK_MM
                && straight
                && {
                    let [leaves, meets] =
                        [from.at + way * half_length(from, &way), to.at - way * half_length(to, &way)];
                    share_over_hole(graph, &leaves, &meets) >= LEAST_OVER_HOLE
                };
            if space_mm > MOST_SPACE_MM.max(settings.max_gap_mm) && !over_hole {
                continue;
            }
            let cost = space_mm * (3.0 + 4.0 * (leave + meet)) + 2.0;
            let link = Link { a: a.min(b), b: a.max(b), length_mm: d.norm(), cost, gap: true };
            ahead[usize::from(way.dot(&from.along) > 0.0)].push(Leap { link, space_mm, over_hole });
        }
        for mut end in ahead {
            end.sort_by(|x, y| {
                x.link.cost.total_cmp(&y.link.cost).then((x.link.a, x.link.b).cmp(&(y.link.a, y.link.b)))
            });
            end.truncate(MOST_FROM_AN_END);
            leaps.extend(end);
        }
    }
    leaps.sort_by(|x, y| (x.link.a, x.link.b).cmp(&(y.link.a, y.link.b)));
    leaps.dedup_by_key(|leap| (leap.link.a, leap.link.b));
    Ok(leaps)
}

/// By how much a way turns off from a dash, from 0; `None` if no pen goes on from the dash that way.
fn turning(dash: &Dash, way: &Vector3<f32>) -> Option<f32> {
    let along = dash.along.dot(way);
    let (piece, pieces) = dash.piece;
    let outward = pieces == 1 || (piece == 0 && along < 0.0) || (piece + 1 == pieces && along > 0.0);
    // A spot that is nearly round says little about its direction.
    let least = (1.5 * (dash.slender - 1.3)).clamp(0.0, 0.6);
    let sure = (dash.slender - 1.0).clamp(0.0, 1.0);
    (outward && along.abs() >= least).then_some(sure * (1.0 - along.abs()))
}

/// Length without ink between two dashes, mm.
pub(super) fn space_mm(from: &Dash, to: &Dash) -> f32 {
    let d = to.at - from.at;
    let Some(way) = d.try_normalize(1e-6) else { return 0.0 };
    (d.norm() - half_length(from, &way) - half_length(to, &way)).max(0.0)
}

/// How far the ink of a dash reaches from its middle along a direction, mm.
fn half_length(dash: &Dash, way: &Vector3<f32>) -> f32 {
    let along = dash.along.dot(way).abs().min(1.0);
    0.5 * (dash.length_mm * along).hypot(dash.width_mm.min(dash.length_mm) * (1.0 - along * along).sqrt())
}

/// The median of the shortest spaces, two from a dash.
fn usual_space(leaps: &[Leap]) -> f32 {
    let mut of_dash = std::collections::BTreeMap::<u32, Vec<f32>>::new();
    for leap in leaps.iter().filter(|leap| !leap.over_hole) {
        for end in [leap.link.a, leap.link.b] {
            of_dash.entry(end).or_default().push(leap.space_mm);
        }
    }
    median(of_dash.into_values().flat_map(|mut spaces| {
        spaces.sort_by(f32::total_cmp);
        spaces.truncate(2);
        spaces
    }))
}

/// Leaves out strokes, such as moles, between two others that follow each other at a usual space without them.
fn without_strays(dashes: &[Dash], mut row: Vec<u32>, closed: bool, usual_mm: f32) -> Vec<u32> {
    let at = |row: &[u32], k: usize| -> u32 { row[k % row.len()] };
    let mut k = 0;
    while k < row.len() {
        let n = row.len();
        let (before, here, after) = (at(&row, k + n - 1), at(&row, k), at(&row, k + 1));
        let inner = closed || (k > 0 && k + 1 < n);
        let [b, h, a] = [before, here, after].map(|d| &dashes[d as usize]);
        if n > LEAST_STROKES && inner && h.piece.1 == 1 && b.stroke != a.stroke && space_mm(b, a) <= usual_mm {
            row.remove(k);
            k = k.saturating_sub(1);
        } else {
            k += 1;
        }
    }
    row
}

/// Whether a row of dashes, or a ring of them, is drawn like a line: enough strokes, which point along it, without
/// sharp turns.
fn is_line(dashes: &[Dash], row: &[u32], closed: bool) -> bool {
    if strokes(dashes, row) < LEAST_STROKES {
        return false;
    }
    let n = row.len();
    let at = |k: usize| &dashes[row[k % n] as usize];
    // The cosine of a random angle is 2/π in the mean, with a variance of 1/2 − 4/π².
    const MEAN: f32 = std::f32::consts::FRAC_2_PI;
    let (mut along, mut variance) = (0.0, 0.0);
    for k in if closed { 0..n } else { 1..n - 1 } {
        let (before, here, after) = (at(k + n - 1), at(k), at(k + 1));
        let (come, go) = (here.at - before.at, after.at - here.at);
        if come.dot(&go) < SHARPEST_TURN * come.norm() * go.norm() {
            return false;
        }
        let sure = (here.slender - 1.0).clamp(0.0, 1.0);
        let cosine = (after.at - before.at).try_normalize(1e-6).map_or(0.0, |way| way.dot(&here.along).abs());
        along += sure * (cosine - MEAN);
        variance += sure * sure * (0.5 - MEAN * MEAN);
    }
    along >= LEAST_ALONG * variance.sqrt() && along > 0.0
}
