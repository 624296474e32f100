//! Frames: closed ribs round what lies in the way of a network of ribs, on which its members end.

use mesh::Cancelled;
use mesh::geodesic::contour;
use nalgebra::Point3;
use zone::Zone;

use super::plate::Support;
use super::{RIB_FITTING_WALL_MM, RibContext, rib_half_foot_mm};
use crate::pattern::Site;
use crate::pattern::free_space::whole_of;
use crate::pattern::tangent_frame::TangentFrame;
use crate::{Chart, DesignItem, Layout, Shape};

/// Distance between the points of a frame, mm.
const STEP_MM: f32 = 1.5;
/// Corners of frames are rounded with at least this radius, mm.
const ROUND_MM: f32 = 4.0;

/// What lies in the way.
#[derive(Debug)]
pub struct Obstacles<'a> {
    /// Things that are placed, each as a shape grown by what ribs keep off, on the plane of its site.
    placed: Vec<(Site, Shape)>,
    /// How far each vertex lies outside of the reliefs, mm.
    reliefs: Vec<&'a [f32]>,
    foot_mm: f32,
    /// Whether each of them has no frame.
    bare: Vec<bool>,
    /// Fittings with a frame, on which ribs can end.
    pub supports: Vec<Support>,
    /// Closed lines round those that have room for one inside the rim.
    pub frames: Vec<Vec<Point3<f32>>>,
}

impl<'a> Obstacles<'a> {
    /// All of a layout and the reliefs of a zone.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn of(context: &RibContext<'_>, zone: &'a Zone, layout: &Layout) -> Result<Self, Cancelled> {
        let foot_mm = rib_half_foot_mm(context.ribs);
        let mut placed: Vec<(Site, Shape)> = Vec::new();
        let mut fittings = Vec::new();
        for thing in layout.placed() {
            let shape = grown(&whole_of(thing.shape), foot_mm + RIB_FITTING_WALL_MM);
            if let Some(found) = site_of(context, thing.chart).zip(shape) {
                placed.push(found);
                fittings.push(matches!(thing.item, DesignItem::Fitting(_)));
            }
        }
        let mut all =
            Self { placed, bare: Vec::new(), supports: Vec::new(), reliefs: Vec::new(), foot_mm, frames: Vec::new() };
        for relief in &zone.reliefs {
            context.job.check()?;
            all.reliefs.push(&relief.region.distance_mm);
            for line in contour(context.skin, &relief.region.distance_mm, -foot_mm) {
                all.frames.extend(inside_rim(context, line.line.points.iter().copied().map(Some)));
            }
        }
        let (mut bare, mut supports) = (Vec::new(), Vec::new());
        for (n, (site, shape)) in all.placed.iter().enumerate() {
            context.job.check()?;
            let points = shape.outline(STEP_MM).into_iter();
            let on_skin = |p: [f32; 2]| Some(site.frame.exp_map(context.skin, site.tangent_way(p))?.point());
            let line = inside_rim(context, points.map(on_skin));
            // Two that overlap, as the slots of one tie, would have frames across each other.
            let alone = all.placed.iter().enumerate().all(|(k, other)| k == n || !overlap(site, shape, other));
            let frame = line.filter(|_| alone);
            bare.push(frame.is_none());
            if frame.is_some() && fittings[n] {
                supports.push(Support { middle: site.frame.point(), reach_mm: shape.reach() });
            }
            all.frames.extend(frame);
        }
        (all.bare, all.supports) = (bare, supports);
        Ok(all)
    }

    /// The vertices of the skin within `margin_mm` of what has no frame, but for what lies under `load`.
    pub fn cut(&self, context: &RibContext<'_>, load: &TangentFrame, margin_mm: f32) -> Vec<bool> {
        let points = &context.skin.mesh().points;
        let mut cut = vec![false; points.len()];
        for ((site, shape), _) in self.placed.iter().zip(&self.bare).filter(|(_, bare)| **bare) {
            let off = |frame: &TangentFrame| shape.signed_distance(site.lattice_way(site.frame.log_map(frame)));
            let far = shape.reach() + margin_mm;
            if (site.frame.point() - load.point()).norm() < far && off(load) < margin_mm {
                continue;
            }
            for (p, cut) in points.iter().zip(&mut cut).filter(|(p, _)| (*p - site.frame.point()).norm() < far) {
                let frame = context.skin.nearest(p, None).map(|hit| TangentFrame::new(context.skin, hit));
                *cut |= frame.is_some_and(|f| f.normal.dot(&site.frame.normal) > 0.0 && off(&f) < margin_mm);
            }
        }
        cut
    }

    /// How far a place lies outside of all of them, mm.
    pub fn clear_mm(&self, context: &RibContext<'_>, frame: &TangentFrame) -> f32 {
        let placed = self.placed.iter().filter(|(site, shape)| {
            let far = shape.reach() + 1.0;
            (site.frame.point() - frame.point()).norm() < far && site.frame.normal.dot(&frame.normal) > 0.0
        });
        let beside = placed.map(|(site, shape)| shape.signed_distance(site.lattice_way(site.frame.log_map(frame))));
        let off = self.reliefs.iter().map(|d| -context.skin.interpolate(d, &frame.hit) - self.foot_mm);
        beside.chain(off).fold(f32::INFINITY, f32::min)
    }
}

/// The middle of a chart with its first axis.
fn site_of(context: &RibContext<'_>, chart: &Chart) -> Option<Site> {
    let frame = TangentFrame::new(context.skin, chart.centre);
    let right = chart.skin_point(context.skin, [0.5 * chart.radius_mm, 0.0])?;
    let way = frame.log_map(&TangentFrame::new(context.skin, right));
    let length = way[0].hypot(way[1]);
    (length > 1e-3).then(|| Site { frame, axis: way.map(|x| x / length) })
}

/// A shape made larger on all sides, with round corners.
fn grown(shape: &Shape, by: f32) -> Option<Shape> {
    Some(match shape {
        Shape::Circle { centre, radius } => Shape::Circle { centre: *centre, radius: radius + by },
        Shape::Slot { from, to, radius } => Shape::Slot { from: *from, to: *to, radius: radius + by },
        Shape::RoundedPolygon { corners, round } => {
            Shape::RoundedPolygon { corners: corners.clone(), round: round + by }
        }
        Shape::RoundedBox { centre, direction, half, round } => {
            let half = half.map(|h| h + by);
            let round = (round + by).max(ROUND_MM).min(half[0]).min(half[1]);
            Shape::RoundedBox { centre: *centre, direction: *direction, half, round }
        }
        Shape::Drawing { .. } => return None,
    })
}

/// A closed line with its first point at the end again, if all of its points are there and have room inside the rim.
fn inside_rim(context: &RibContext<'_>, points: impl Iterator<Item = Option<Point3<f32>>>) -> Option<Vec<Point3<f32>>> {
    let mut line: Vec<Point3<f32>> = Vec::new();
    for p in points {
        let hit = context.skin.nearest(&p?, None)?;
        if context.open.at(context.skin, &TangentFrame::new(context.skin, hit)) <= 0.0 {
            return None;
        }
        if line.last().is_none_or(|last| (last - hit.point).norm() >= 0.4 * STEP_MM) {
            line.push(hit.point);
        }
    }
    let first = *line.first()?;
    while line.len() > 3 && line.last().is_some_and(|last| (last - first).norm() < 0.4 * STEP_MM) {
        line.pop();
    }
    line.push(first);
    (line.len() > 4).then_some(line)
}

/// Whether two grown shapes share any place.
fn overlap(site: &Site, shape: &Shape, (other_site, other): &(Site, Shape)) -> bool {
    if (site.frame.point() - other_site.frame.point()).norm() > shape.reach() + other.reach() {
        return false;
    }
    let off = site.frame.log_map(&other_site.frame);
    other.outline(STEP_MM).into_iter().any(|p| {
        let turned = site.frame.transport_from(&other_site.frame, &other_site.frame.vector(other_site.tangent_way(p)));
        shape.signed_distance(site.lattice_way([off[0] + turned[0], off[1] + turned[1]])) < 0.0
    })
}
