//! Which dashes follow each other on one dashed line.

use std::collections::BTreeSet;

use mesh::{Cancelled, Job};

use super::PenSettings;
use super::cycles::{SpanningForest, in_order};
use super::dash_leaps::{Leap, leaps, space_mm, usual_space, within_strokes};
use super::dashes::Dash;
use super::links::Link;
use super::skin_graph::SkinGraph;
use super::statistics::median;

/// A dashed line has at least this many strokes; fewer may be moles in a row.
pub(super) const LEAST_STROKES: usize = 6;
/// Spaces up to this many times the usual one are left by an unsteady hand.
const UNEVEN: f32 = 1.5;
/// Strokes of one line are as long, wide and dark as the usual one within these factors.
const LENGTHS: std::ops::RangeInclusive<f32> = 0.4..=2.5;
const WIDTHS: std::ops::RangeInclusive<f32> = 0.55..=1.8;
const INKS: std::ops::RangeInclusive<f32> = 0.5..=2.0;
/// Dashes point along their line by at least so many standard deviations more than spots at random would. Rows of moles
/// came to 2.4 at most on skins with hundreds of them; six straight dashes come to 2.9.
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
        let usual_mm = usual_space(&leaps);
        let most_mm = settings.max_gap_mm.max(UNEVEN * usual_mm);
        let links: Vec<Link> = leaps
            .into_iter()
            .filter(|leap| leap.over_hole || leap.space_mm <= most_mm)
            .map(|leap| leap.link)
            .chain(within_strokes(dashes, &members))
            .collect();
        let forest = SpanningForest::new(dashes.len(), &links);
        let rings: Vec<Vec<u32>> = forest
            .cycles(&links, least_mm, job)?
            .iter()
            .filter_map(|cycle| in_order(cycle, &links))
            .map(|ring| without_strays(dashes, ring, true, UNEVEN * usual_mm))
            .filter(|ring| is_line(dashes, ring, true))
            .collect();
        let row = longest_row(dashes, &forest, &links, &members, UNEVEN * usual_mm);
        chains.push(Chain { rings, row, space_mm: usual_mm });
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

#[cfg(test)]
mod tests {
    use std::f32::consts::{FRAC_PI_4, TAU};

    use nalgebra::{Point3, Vector3};

    use super::*;

    /// Dashes of 8 by 3 mm on a circle, turned against its tangent by `turn`.
    fn round(count: u32, turn: f32) -> Vec<Dash> {
        let radius = 14.0 * count as f32 / TAU;
        (0..count)
            .map(|k| {
                let at = TAU * k as f32 / count as f32;
                let way = at + 0.5 * std::f32::consts::PI + turn;
                Dash {
                    at: Point3::new(radius * at.cos(), radius * at.sin(), 0.0),
                    along: Vector3::new(way.cos(), way.sin(), 0.0),
                    normal: Vector3::z(),
                    length_mm: 8.0,
                    width_mm: 3.0,
                    slender: 2.6,
                    ink: 0.7,
                    spread: 0.03,
                    stroke: k,
                    piece: (0, 1),
                }
            })
            .collect()
    }

    #[test]
    fn dashes_along_a_ring_are_a_line_and_dashes_across_it_are_none() {
        let ring: Vec<u32> = (0..12).collect();
        assert!(is_line(&round(12, 0.0), &ring, true));
        assert!(is_line(&round(12, 0.2), &ring, true));
        // cos 45° = 0.71 is hardly more than dashes at random give.
        assert!(!is_line(&round(12, FRAC_PI_4), &ring, true));
        assert!(!is_line(&round(12, 2.0 * FRAC_PI_4), &ring, true));
        // Back and forth between two neighbours is no way to draw.
        let jumping: Vec<u32> = vec![0, 2, 1, 3, 5, 4, 6, 8, 7, 9, 11, 10];
        assert!(!is_line(&round(12, 0.0), &jumping, true));
        assert!(!is_line(&round(5, 0.0), &[0, 1, 2, 3, 4], true), "five strokes");
    }

    #[test]
    fn a_mole_between_two_dashes_is_left_out_and_no_dash_is() {
        let mut dashes = round(12, 0.0);
        let mole = nalgebra::center(&dashes[3].at, &dashes[4].at);
        dashes.push(Dash { at: mole, length_mm: 3.0, slender: 1.0, stroke: 12, ..dashes[0].clone() });
        let with_mole: Vec<u32> = vec![0, 1, 2, 3, 12, 4, 5, 6, 7, 8, 9, 10, 11];
        let ring: Vec<u32> = (0..12).collect();
        assert_eq!(without_strays(&dashes, with_mole, true, 9.0), ring);
        assert_eq!(without_strays(&dashes, ring.clone(), true, 9.0), ring);
    }
}
