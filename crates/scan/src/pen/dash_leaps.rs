//! The ways from one dash to those that may follow it, and the spaces between them.

use std::collections::BTreeMap;

use mesh::{Cancelled, Job, SpatialHash};
use nalgebra::Vector3;

use super::PenSettings;
use super::dashes::Dash;
use super::links::{Link, share_over_hole};
use super::skin_graph::SkinGraph;
use super::statistics::median;

/// The longest space between two dashes of a drawn line, mm.
const MOST_SPACE_MM: f32 = 14.0;
/// Where a dash is lost in a hole, this share of the space that it leaves is hole; the rest is bare skin on both sides.
const LEAST_OVER_HOLE: f32 = 0.35;
/// The ink of a dash fades out over about half of this at its tip, mm.
const HOLE_SLACK_MM: f32 = 2.0;

/// Over a hole the line runs nearly straight on.
const MOST_TURN_OVER_HOLE: f32 = 0.5;

/// A way from one dash to the next.
pub(super) struct Leap {
    pub link: Link,
    /// Length without ink, mm.
    pub space_mm: f32,
    /// It leads over a hole of the scan.
    pub over_hole: bool,
}

/// Links between the pieces of each stroke.
pub(super) fn within_strokes<'a>(dashes: &'a [Dash], members: &'a [u32]) -> impl Iterator<Item = Link> + 'a {
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
pub(super) fn leaps(
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
            let over_hole = space_mm > MOST_SPACE_MM.min(settings.max_gap_mm)
                && space_mm <= settings.max_hole_mm + HOLE_SLACK_MM
                && leave + meet < MOST_TURN_OVER_HOLE
                && is_over_hole(graph, from, to);
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
    leaps.sort_by_key(|leap| (leap.link.a, leap.link.b));
    leaps.dedup_by_key(|leap| (leap.link.a, leap.link.b));
    Ok(leaps)
}

/// Whether enough of the space between two dashes is a hole of the scan.
fn is_over_hole(graph: &SkinGraph, from: &Dash, to: &Dash) -> bool {
    let Some(way) = (to.at - from.at).try_normalize(1e-6) else { return false };
    let (leave, meet) = (from.at + way * half_length(from, &way), to.at - way * half_length(to, &way));
    share_over_hole(graph, &leave, &meet) >= LEAST_OVER_HOLE
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
pub(super) fn usual_space(leaps: &[Leap]) -> f32 {
    let mut of_dash = BTreeMap::<u32, Vec<f32>>::new();
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
