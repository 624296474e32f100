//! Decides whether one kind of ink makes a closed line, drawn in one or dashed, an open one or none.

use mesh::{Cancelled, Job, SpatialHash};
use nalgebra::Point3;

use super::contrast::Contrast;
use super::dashed::dashed;
use super::dashes::{Dash, LeastInk, dashes};
use super::polyline::flat_area;
use super::ridge::{RidgePoint, ridge_points};
use super::rings::{is_ring_in, rings};
use super::skin_graph::SkinGraph;
use super::solid::solid;
use super::{Ink, PenFinding, PenLine, PenSettings};

/// Ink must differ from the skin by this much of the skin's lightness.
pub(super) const LEAST_INK: f32 = 0.15;
/// Ink must stand out this many times the usual spread of the skin.
pub(super) const LEAST_STANDING_OUT: f32 = 4.0;
/// Ink paler than this share of the line's usual ink is not taken for the same pen.
pub(super) const SAME_INK: f32 = 0.4;

/// What is searched, and for what.
#[derive(Clone, Copy)]
pub(super) struct Search<'a> {
    pub graph: &'a SkinGraph<'a>,
    /// Contrast of each vertex.
    pub inked: &'a [f32],
    pub kind: Ink,
    pub settings: &'a PenSettings,
}

/// The usual contrast of a line, and the spread of the skin along it.
#[derive(Debug, Clone, Copy)]
pub(super) struct UsualInk {
    pub ink: f32,
    pub spread: f32,
}

/// A line, the ink that it is drawn in, and the length of that ink.
pub(super) struct Found {
    pub finding: PenFinding,
    pub pen: UsualInk,
    pub inked_mm: f32,
}

/// What one kind of ink gave, and how much it counts against the other kinds.
pub(super) struct Judged {
    pub finding: PenFinding,
    pub rank: (u8, f32),
}

/// Searches for a pen line in one kind of ink.
pub(super) fn judge(
    graph: &SkinGraph,
    contrast: &Contrast,
    kind: Ink,
    settings: &PenSettings,
    job: &Job,
) -> Result<Judged, Cancelled> {
    let search = Search { graph, inked: &contrast.value, kind, settings };
    let ridge_points = ridge_points(graph, &contrast.value, &contrast.spread, job)?;
    job.step("Following the ink", 0.5)?;
    let solid = solid(search, &ridge_points, job)?;
    job.step("Following the dashes", 0.8)?;
    let least = LeastInk { contrast: LEAST_INK, standing_out: LEAST_STANDING_OUT };
    let dashes = dashes(graph, search.inked, &ridge_points, &least, job)?;
    let dashed = dashed(search, &dashes, job)?;
    job.step("Looking for rings", 0.9)?;
    let mut found = match (solid, dashed) {
        (Ok(solid), Some(dashed)) => better(graph, solid, dashed, job)?,
        (Ok(only), None) | (Err(_), Some(only)) => only,
        (Err(why), None) => return Ok(Judged { finding: PenFinding::None { why }, rank: (0, 0.0) }),
    };
    let pen = found.pen;
    let strength = pen.ink / pen.spread;
    let rank = match &mut found.finding {
        PenFinding::Closed(line) => {
            add_rings(search, pen, line, &ridge_points, &dashes, job)?;
            (2, strength)
        }
        PenFinding::Open { proposal, .. } => {
            if let Some(proposal) = proposal {
                add_rings(search, pen, &mut proposal.line, &ridge_points, &dashes, job)?;
            }
            (1, strength * found.inked_mm)
        }
        PenFinding::None { .. } => (0, 0.0),
    };
    Ok(Judged { finding: found.finding, rank })
}

/// Of a line drawn in one and a dashed one the closed one, unless it is a ring inside the open one; of two closed ones the
/// one that encloses more skin; of two open ones the one with more ink.
fn better(graph: &SkinGraph, solid: Found, dashed: Found, job: &Job) -> Result<Found, Cancelled> {
    let mut same = false;
    let solid_first = match (&solid.finding, &dashed.finding) {
        (PenFinding::Closed(one), PenFinding::Closed(other)) => {
            // Dashes may pass for a line with many gaps.
            same = is_along(&other.centre, &one.centre);
            !same && one.area_mm2 >= other.area_mm2
        }
        (PenFinding::Closed(line), open) => !is_ring_in(graph, line, open, job)?,
        (open, PenFinding::Closed(line)) => is_ring_in(graph, line, open, job)?,
        _ => solid.pen.ink * solid.inked_mm >= dashed.pen.ink * dashed.inked_mm,
    };
    let (mut first, second) = if solid_first { (solid, dashed) } else { (dashed, solid) };
    if let (PenFinding::Closed(line), PenFinding::Closed(second)) = (&mut first.finding, second.finding) {
        line.others.extend((!same).then_some(second.centre));
        line.others.extend(second.others);
        line.others.sort_by(|x, y| flat_area(y).total_cmp(&flat_area(x)));
    }
    Ok(first)
}

/// Whether most of a line lies along another.
fn is_along(line: &[Point3<f32>], other: &[Point3<f32>]) -> bool {
    const NEAR_MM: f32 = 3.0;
    let near = SpatialHash::of(NEAR_MM, other.iter().copied());
    line.iter().filter(|p| !near.within(p, NEAR_MM).is_empty()).count() * 2 > line.len()
}

/// Adds the rings inside a line, and says how many there are and how many other lines are left aside.
fn add_rings(
    search: Search<'_>,
    pen: UsualInk,
    line: &mut PenLine,
    ridge_points: &[RidgePoint],
    dashes: &[Dash],
    job: &Job,
) -> Result<(), Cancelled> {
    /// A line so near to a ring is made of the same ink, mm.
    const SAME_MM: f32 = 2.0;
    line.rings = rings(search, pen, line, ridge_points, dashes, job)?;
    let in_rings = SpatialHash::of(SAME_MM, line.rings.iter().flat_map(|ring| ring.centre.iter().copied()));
    line.others.retain(|other| other.iter().all(|p| in_rings.within(p, SAME_MM).is_empty()));
    let s = |n: usize| if n == 1 { "" } else { "s" };
    if !line.rings.is_empty() {
        let n = line.rings.len();
        let areas: Vec<String> = line.rings.iter().map(|ring| format!("{:.1}", ring.area_mm2 / 100.0)).collect();
        line.sentence += &format!(" {n} ring{} inside it, around {} cm².", s(n), areas.join(", "));
    }
    if !line.others.is_empty() {
        let n = line.others.len();
        line.sentence += &format!(" {n} smaller closed line{} left aside.", s(n));
    }
    Ok(())
}

/// Least length of a ring, mm: that of a circle round the least area, less a tenth.
pub(super) fn least_round_mm(settings: &PenSettings) -> f32 {
    (4.0 * std::f32::consts::PI * settings.min_area_mm2.max(1.0)).sqrt() * 0.9
}
