//! The trim line pulled by hand.
//!
//! A pull moves the fair edge straight out of the zone or into it: by its full length where the edge is held, falling to
//! both sides as (1 − x²)³, whose curvature has no jump, and not at all beyond the falloff, measured along the edge. The
//! pulled edge is made fair again ([`crate::make`]), and stays off keep-clear regions and the ends of the scan.

use mesh::geodesic::path;
use mesh::{Hit, Job, Surface};
use nalgebra::{Point3, Vector3};

use crate::EdgePull;
use crate::limits::PULL;

/// Grips stand about this far apart along an edge.
const APART_MM: f32 = 25.0;
/// Fewest and most grips of one edge.
const COUNT: (usize, usize) = (6, 40);
/// An edge shorter than this has no grips.
const SHORTEST_MM: f32 = 20.0;
/// A pull fades out over this length of the edge to each side; a long pull over [`FALLOFF_SHARE`] times its own length,
/// so that a straight edge turns no sharper than a circle of 8 mm: 24² / (6 · 10.9) and more.
pub const FALLOFF_MM: f32 = 24.0;
/// Falloff of a long pull by its length.
pub const FALLOFF_SHARE: f32 = 2.2;
/// A grip follows the hand this far along the edge.
const SLIDE_MM: f32 = 12.0;
/// A shorter pull changes nothing.
const LEAST_MM: f32 = 0.3;
/// Points of the pulled piece stand this far apart along the edge as it was.
const STEP_MM: f32 = 1.0;
/// A pull farther than this from every edge holds none.
pub(crate) const HOLDS_MM: f32 = 25.0;

/// A point where the trim line can be pulled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grip {
    /// Number of the edge.
    pub edge: usize,
    /// How far along the edge it is, mm.
    pub along_mm: f32,
    /// Where it is.
    pub at_mm: Point3<f32>,
    /// Along the skin, out of the region.
    pub outward: Vector3<f32>,
}

/// What a pull does.
#[derive(Debug, Clone, PartialEq)]
pub struct Pulled {
    /// The pull, for [`crate::ZoneSettings::pulls`].
    pub pull: EdgePull,
    /// The piece of the edge that moves, as it would lie if nothing else was in its way.
    pub line_mm: Vec<Point3<f32>>,
}

/// Grips evenly spaced along the edges of a region ([`crate::Region::edges`]).
#[must_use]
pub fn grips(skin: &Surface, edges: &[Vec<Point3<f32>>]) -> Vec<Grip> {
    let mut found = Vec::new();
    for (edge, points) in edges.iter().enumerate() {
        let edge_line = ClosedEdge::new(points);
        if edge_line.length_mm < SHORTEST_MM {
            continue;
        }
        let count = ((edge_line.length_mm / APART_MM).round() as usize).clamp(COUNT.0, COUNT.1);
        found.extend((0..count).filter_map(|i| {
            let along_mm = edge_line.length_mm * i as f32 / count as f32;
            let (hit, outward) = edge_line.stand(skin, along_mm)?;
            Some(Grip { edge, along_mm, at_mm: hit.point, outward })
        }));
    }
    found
}

/// The edge pulled at a grip until it runs through `to`, which lies on the skin. `None` for a pull of
/// next to nothing, or a grip that is on none of these edges.
///
/// `edges` are those of the zone as it is. `to` counts up to 12 mm along the edge beside the grip and up to 60 mm away
/// from it.
#[must_use]
pub fn pull(skin: &Surface, edges: &[Vec<Point3<f32>>], grip: &Grip, to: &Hit) -> Option<Pulled> {
    let edge_line = ClosedEdge::new(edges.get(grip.edge)?);
    if edge_line.length_mm < SHORTEST_MM {
        return None;
    }
    let middle_mm = edge_line.beside(&to.point, grip.along_mm);
    let (foot, outward) = edge_line.stand(skin, middle_mm)?;
    let straight = to.point - foot.point;
    let mut way_mm = straight.norm().min(PULL.most);
    // The way over the skin is no shorter, and is only searched for where it can be within reach.
    if way_mm < PULL.most
        && let Ok(line) = path(skin, &foot, to, &Job::silent())
    {
        way_mm = (line.length_mm() as f32).min(PULL.most);
    }
    if way_mm < LEAST_MM {
        return None;
    }
    let by_mm = way_mm * if straight.dot(&outward) < 0.0 { -1.0 } else { 1.0 };
    let line_mm = edge_line.moved(skin, middle_mm, by_mm, |_| true)?;
    Some(Pulled { pull: EdgePull { at_mm: foot.point, by_mm }, line_mm })
}

/// Pulls the nearest of these closed lines; which one that was, or nothing where none is near enough. Points go no
/// farther than `is_free`.
pub(crate) fn apply(
    skin: &Surface,
    lines: &mut [Vec<Point3<f32>>],
    pull: &EdgePull,
    is_free: impl Fn(&Hit) -> bool,
) -> Option<usize> {
    let found = lines.iter().enumerate().map(|(n, line)| (n, ClosedEdge::new(line).nearest(&pull.at_mm)));
    let (n, (middle_mm, away_mm)) = found.min_by(|a, b| a.1.1.total_cmp(&b.1.1))?;
    let edge_line = ClosedEdge::new(&lines[n]);
    if away_mm > HOLDS_MM || edge_line.length_mm < SHORTEST_MM {
        return None;
    }
    let moved = edge_line.moved(skin, middle_mm, pull.by_mm, is_free)?;
    let half_mm = edge_line.falloff_mm(pull.by_mm);
    let rest_mm = edge_line.length_mm - 2.0 * half_mm;
    let count = (rest_mm / STEP_MM).ceil().max(2.0) as usize;
    // Both ends of the rest belong to the piece that moves.
    let rest = (1..count).map(|i| edge_line.at(middle_mm + half_mm + rest_mm * i as f32 / count as f32));
    lines[n] = moved.into_iter().chain(rest).collect();
    Some(n)
}

/// Walks straight over the skin, backwards where the length is negative, as far as it is free.
fn walk(skin: &Surface, from: &Hit, way: &Vector3<f32>, length_mm: f32, is_free: impl Fn(&Hit) -> bool) -> Hit {
    let steps = (length_mm.abs() / STEP_MM).ceil().max(1.0);
    let (mut at, mut way, step) = (*from, *way, length_mm / steps);
    for _ in 0..steps as usize {
        let Some(next) = skin.nearest(&(at.point + way * step), Some(at.triangle)) else { break };
        if !is_free(&next) {
            break;
        }
        let normal = skin.normal_at(&next);
        way = (way - normal * way.dot(&normal)).try_normalize(1e-6).unwrap_or(way);
        at = next;
    }
    at
}

/// A closed edge by its arc length.
struct ClosedEdge<'a> {
    points: &'a [Point3<f32>],
    /// Arc length from the first point to each, mm.
    starts: Vec<f32>,
    length_mm: f32,
}

impl<'a> ClosedEdge<'a> {
    fn new(points: &'a [Point3<f32>]) -> Self {
        let mut starts = Vec::with_capacity(points.len());
        let mut length_mm = 0.0;
        for (i, p) in points.iter().enumerate() {
            starts.push(length_mm);
            length_mm += (points[(i + 1) % points.len()] - p).norm();
        }
        Self { points, starts, length_mm }
    }

    fn at(&self, along_mm: f32) -> Point3<f32> {
        let s = along_mm.rem_euclid(self.length_mm);
        let i = self.starts.partition_point(|start| *start <= s).saturating_sub(1);
        let (a, b) = (self.points[i], self.points[(i + 1) % self.points.len()]);
        let length = (b - a).norm();
        if length < 1e-6 { a } else { a + (b - a) * ((s - self.starts[i]) / length).min(1.0) }
    }

    /// The skin point there, and the direction over the skin out of the region.
    fn stand(&self, skin: &Surface, along_mm: f32) -> Option<(Hit, Vector3<f32>)> {
        let hit = skin.nearest(&self.at(along_mm), None)?;
        // A chord over several triangles: the edge turns a little in each.
        let along = self.at(along_mm + 3.0) - self.at(along_mm - 3.0);
        // The inside is on the left.
        let outward = along.cross(&skin.normal_at(&hit)).try_normalize(1e-6)?;
        Some((hit, outward))
    }

    /// The place on the edge that is nearest to `p`, near the grip.
    fn beside(&self, p: &Point3<f32>, along_mm: f32) -> f32 {
        let steps = 4.0 * SLIDE_MM;
        (0..=2 * steps as usize)
            .map(|i| along_mm + SLIDE_MM * (i as f32 / steps - 1.0))
            .min_by(|a, b| (self.at(*a) - p).norm().total_cmp(&(self.at(*b) - p).norm()))
            .unwrap_or(along_mm)
    }

    /// The place on all of the edge that is nearest to `p`, and how far away it is, mm.
    fn nearest(&self, p: &Point3<f32>) -> (f32, f32) {
        let mut best = (0.0, f32::INFINITY);
        for (i, (a, start)) in self.points.iter().zip(&self.starts).enumerate() {
            let side = self.points[(i + 1) % self.points.len()] - a;
            let share = ((p - a).dot(&side) / side.norm_squared().max(f32::MIN_POSITIVE)).clamp(0.0, 1.0);
            let away_mm = (p - (a + side * share)).norm();
            if away_mm < best.1 {
                best = (start + side.norm() * share, away_mm);
            }
        }
        best
    }

    /// How far to each side a pull of this length moves it, mm.
    fn falloff_mm(&self, by_mm: f32) -> f32 {
        FALLOFF_MM.max(FALLOFF_SHARE * by_mm.abs()).min(0.45 * self.length_mm)
    }

    /// The piece that a pull moves, from its first still point to its last.
    fn moved(
        &self,
        skin: &Surface,
        middle_mm: f32,
        by_mm: f32,
        is_free: impl Fn(&Hit) -> bool,
    ) -> Option<Vec<Point3<f32>>> {
        let falloff_mm = self.falloff_mm(by_mm);
        let count = (2.0 * falloff_mm / STEP_MM).ceil() as usize;
        (0..=count)
            .map(|i| {
                let beside = 2.0 * i as f32 / count as f32 - 1.0;
                let (hit, outward) = self.stand(skin, middle_mm + falloff_mm * beside)?;
                let share = (1.0 - beside * beside).powi(3);
                Some(walk(skin, &hit, &outward, by_mm * share, &is_free).point)
            })
            .collect()
    }
}
