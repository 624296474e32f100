//! The trim line pulled by hand: the brush dabs that move it.
//!
//! A pull moves the edge of a region straight out of it or into it: by its full length where the edge is held, falling
//! to both sides as the square of a cosine, and not at all beyond the falloff, measured along the edge. The result is a
//! row of small brush dabs whose rims touch the new edge, so that a pull is painted over, undone and saved like any
//! stroke.

use std::f32::consts::FRAC_PI_2;

use mesh::geodesic::path;
use mesh::{Hit, Job, Surface};
use nalgebra::{Point3, Vector3};

use crate::Dab;

/// Grips stand about this far apart along an edge.
const APART_MM: f32 = 25.0;
/// Fewest and most grips of one edge.
const COUNT: (usize, usize) = (6, 40);
/// An edge shorter than this has no grips.
const SHORTEST_MM: f32 = 20.0;
/// A pull fades out over this length of the edge to each side; a long pull over twice its own length, so that the edge
/// turns no sharper than a circle of about 8 mm.
pub const FALLOFF_MM: f32 = 20.0;
/// Longest pull in one go.
const LONGEST_MM: f32 = 60.0;
/// A grip follows the hand this far along the edge.
const SLIDE_MM: f32 = 12.0;
/// A shorter pull changes nothing.
const LEAST_MM: f32 = 0.3;
/// Radius of the dabs on the finished edge where there is room for them.
const DAB_MM: f32 = 6.0;
/// Dabs stand this far apart: their rims leave 0.05 mm of each other's edge.
const STEP_MM: f32 = 1.5;
/// Smallest dab.
const LEAST_DAB_MM: f32 = 0.5;
/// A dab may reach this far over the edge.
const OVER_MM: f32 = 0.2;

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
pub struct Pull {
    /// The dabs that make it, all of one kind.
    pub dabs: Vec<Dab>,
    /// The piece of the edge that moves, as it will lie.
    pub line_mm: Vec<Point3<f32>>,
    /// How far the edge moves out where it is held; negative inward.
    pub by_mm: f32,
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
/// `edges` are those of the zone as it is, `grow_mm` is what the zone is grown by after all its dabs
/// ([`crate::ZoneSettings::grow_mm`]): the dabs are that much smaller or larger. `to` counts up to 12 mm along the edge
/// beside the grip and up to 60 mm away from it.
#[must_use]
pub fn pull(skin: &Surface, edges: &[Vec<Point3<f32>>], grip: &Grip, to: &Hit, grow_mm: f32) -> Option<Pull> {
    let edge_line = ClosedEdge::new(edges.get(grip.edge)?);
    if edge_line.length_mm < SHORTEST_MM {
        return None;
    }
    let middle_mm = edge_line.nearest(&to.point, grip.along_mm);
    let (foot, outward) = edge_line.stand(skin, middle_mm)?;
    let straight = to.point - foot.point;
    let mut way_mm = straight.norm().min(LONGEST_MM);
    // The way over the skin is no shorter, and is only searched for where it can be within reach.
    if way_mm < LONGEST_MM
        && let Ok(line) = path(skin, &foot, to, &Job::silent())
    {
        way_mm = (line.length_mm() as f32).min(LONGEST_MM);
    }
    if way_mm < LEAST_MM {
        return None;
    }
    let by_mm = way_mm * if straight.dot(&outward) < 0.0 { -1.0 } else { 1.0 };
    let falloff_mm = FALLOFF_MM.max(2.0 * way_mm).min(0.45 * edge_line.length_mm);

    let count = (2.0 * falloff_mm / STEP_MM).ceil() as usize;
    let mut feet = Vec::with_capacity(count);
    for i in 0..=count {
        let beside_mm = falloff_mm * (2.0 * i as f32 / count as f32 - 1.0);
        let (hit, outward) = edge_line.stand(skin, middle_mm + beside_mm)?;
        let share = (FRAC_PI_2 * beside_mm / falloff_mm).cos().powi(2);
        feet.push((hit, outward, by_mm * share));
    }
    let new: Vec<Hit> = feet.iter().map(|(hit, way, by)| walk(skin, hit, way, *by)).collect();
    let line_mm: Vec<Point3<f32>> = new.iter().map(|hit| hit.point).collect();
    let stays = edge_line.without(middle_mm, falloff_mm);
    let others = edges.iter().enumerate().filter(|(i, _)| *i != grip.edge).flat_map(|(_, e)| e.iter().copied());
    let edge: Vec<Point3<f32>> = line_mm.iter().copied().chain(stays).chain(others).collect();

    // The zone is grown after its dabs: what is added grows with it, what is taken away shrinks.
    let later_mm = if by_mm > 0.0 { grow_mm } else { -grow_mm };
    let least_mm = (LEAST_DAB_MM + later_mm).max(LEAST_DAB_MM);
    let fit = DabFit { skin, edge: &edge, remove: by_mm < 0.0, least_mm, later_mm };
    let mut dabs = Vec::new();
    for (i, (hit, way, by)) in feet.iter().enumerate() {
        // The new edge runs at a slant to the old one; its dabs lie straight behind the new one.
        let chord = line_mm[(i + 1).min(count)] - line_mm[i.saturating_sub(1)];
        let own = chord.cross(&skin.normal_at(&new[i])).try_normalize(1e-6).unwrap_or(*way);
        let mut level_mm = by.abs();
        if level_mm > 0.05 {
            dabs.push(fit.dab(&new[i], &own));
        }
        // From there back to the old edge in layers, so that no island is left between.
        while level_mm > DAB_MM {
            level_mm -= DAB_MM;
            dabs.push(fit.dab(&walk(skin, hit, way, level_mm.copysign(*by)), way));
        }
    }
    Some(Pull { dabs, line_mm, by_mm })
}

/// What a dab must keep to.
struct DabFit<'a> {
    skin: &'a Surface,
    /// The whole edge as it will run.
    edge: &'a [Point3<f32>],
    remove: bool,
    least_mm: f32,
    /// How much larger the dab will be when the zone is grown.
    later_mm: f32,
}

impl DabFit<'_> {
    /// The largest dab whose rim touches `at` and that reaches over the edge nowhere; it adds from within or takes away
    /// from without.
    fn dab(&self, at: &Hit, outward: &Vector3<f32>) -> Dab {
        let mut radius_mm = DAB_MM.max(self.least_mm);
        loop {
            let middle = walk(self.skin, at, outward, if self.remove { radius_mm } else { -radius_mm }).point;
            let room_mm = self.edge.iter().map(|p| (p - middle).norm_squared()).fold(f32::INFINITY, f32::min).sqrt();
            if room_mm + OVER_MM >= radius_mm || radius_mm <= self.least_mm {
                let radius_mm = (radius_mm - self.later_mm).clamp(LEAST_DAB_MM, 200.0);
                return Dab { at_mm: middle, radius_mm, remove: self.remove };
            }
            radius_mm = (0.75 * radius_mm).max(self.least_mm);
        }
    }
}

/// Walks straight over the skin, backwards where the length is negative.
fn walk(skin: &Surface, from: &Hit, way: &Vector3<f32>, length_mm: f32) -> Hit {
    let steps = (length_mm.abs() / STEP_MM).ceil().max(1.0);
    let (mut at, mut way, step) = (*from, *way, length_mm / steps);
    for _ in 0..steps as usize {
        let Some(next) = skin.nearest(&(at.point + way * step), Some(at.triangle)) else { break };
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
    fn nearest(&self, p: &Point3<f32>, along_mm: f32) -> f32 {
        let steps = 4.0 * SLIDE_MM;
        (0..=2 * steps as usize)
            .map(|i| along_mm + SLIDE_MM * (i as f32 / steps - 1.0))
            .min_by(|a, b| (self.at(*a) - p).norm().total_cmp(&(self.at(*b) - p).norm()))
            .unwrap_or(along_mm)
    }

    /// The edge without the piece that moves.
    fn without(&self, middle_mm: f32, half_mm: f32) -> impl Iterator<Item = Point3<f32>> {
        let rest_mm = (self.length_mm - 2.0 * half_mm).max(0.0);
        let count = (rest_mm / STEP_MM).ceil() as usize;
        (0..count).map(move |i| self.at(middle_mm + half_mm + rest_mm * i as f32 / count as f32))
    }
}
