//! One Voronoi cell of a pattern: the skin nearer to its site than to any other, less the walls on all sides.

use mesh::{SpatialHash, Surface};

use super::Site;
use super::free_space::FreeSpace;
use super::lift::Lift;
use super::polygon::{HalfPlane, area_and_centroid, clip_box, least_width, perimeter};
use super::tangent_frame::TangentFrame;
use crate::Shape;
use crate::shape::offset_outline;

/// Sites with what is needed to make a cell of each.
#[derive(Debug)]
pub struct VoronoiCells<'a> {
    /// The skin.
    pub skin: &'a Surface,
    /// The sites.
    pub sites: &'a [Site],
    /// The same sites, to find neighbours.
    pub near: &'a SpatialHash,
    /// Distance between neighbouring sites, mm.
    pub pitch_mm: f32,
    /// Wall between two cells, mm.
    pub ligament_mm: f32,
    /// The wall above the skin.
    pub lift: &'a Lift,
}

/// Below this width at the outer face, as a share of the width on the skin, a hollow is too sharp for an opening.
pub const HOLLOW_LIMIT: f32 = 0.5;

/// Rounds in which a cell is trimmed to the room there is.
const TRIMS: usize = 4;

/// A vent may reach this far into a clearance: the error of arcs and triangles.
pub const UNSURE_MM: f32 = 0.01;

/// Distance between the points of an outline where its clearance is looked up, mm.
pub const LOOK_MM: f32 = 0.7;

impl VoronoiCells<'_> {
    /// Half planes towards the neighbours of site `i`, `walls` times the ligament apart; `None` in a sharp hollow.
    pub fn walls(&self, i: usize, walls: f32) -> Option<Vec<HalfPlane>> {
        let site = &self.sites[i];
        let mut planes = Vec::with_capacity(24);
        for n in self.near.within(&site.frame.point(), 2.3 * self.pitch_mm) {
            let other = &self.sites[n];
            if n == i || other.frame.normal.dot(&site.frame.normal) <= 0.0 {
                continue;
            }
            let way = self.lift.way(self.skin, &site.frame, &other.frame);
            let d = way[0].hypot(way[1]);
            if d < 1e-3 {
                return None;
            }
            let spread = self.lift.stretch(self.skin, &site.frame, &other.frame).min(1.0);
            if spread < HOLLOW_LIMIT && d < 1.5 * self.pitch_mm {
                return None;
            }
            let wall = walls * self.ligament_mm / spread.max(HOLLOW_LIMIT);
            planes.push(HalfPlane { normal: [way[0] / d, way[1] / d], offset: 0.5 * (d - wall) });
        }
        // Nearest first: later planes then mostly miss the polygon and cost little.
        planes.sort_by(|a, b| a.offset.total_cmp(&b.offset));
        Some(planes)
    }

    /// Adds half planes until the cell, in a box of half side `half` and moved inwards by `inset` before it is grown
    /// by `round`, has at least `level_mm` of room on its outline. Returns the polygon before growing.
    pub fn trim(
        &self,
        i: usize,
        planes: &mut Vec<HalfPlane>,
        room: &FreeSpace,
        level_mm: f32,
        cut: &CellTrim,
    ) -> Vec<[f32; 2]> {
        let frame = &self.sites[i].frame;
        let mut polygon = clip_box(cut.half, planes, cut.round);
        let free = room.free_radius_mm(self.skin, frame);
        for _ in 0..TRIMS {
            let reach = polygon.iter().map(|p| p[0].hypot(p[1])).fold(0.0, f32::max) + cut.round;
            if free - level_mm >= reach + UNSURE_MM {
                break;
            }
            let mut found = false;
            for p in offset_outline(&polygon, cut.round, cut.step_mm) {
                let Some(there) = frame.exp_map(self.skin, p) else {
                    // No skin there: stay well on this side of its end.
                    let d = p[0].hypot(p[1]).max(1e-3);
                    planes.push(HalfPlane { normal: [p[0] / d, p[1] / d], offset: 0.7 * d });
                    found = true;
                    continue;
                };
                if level_mm - room.at(self.skin, &there) > UNSURE_MM
                    && let Some(plane) = self.edge_towards(frame, p, room, level_mm)
                {
                    planes.push(plane);
                    found = true;
                }
            }
            if !found {
                break;
            }
            polygon = clip_box(cut.half, planes, cut.round);
            if polygon.is_empty() {
                break;
            }
        }
        polygon
    }

    /// The half plane on this side of the place where the way from `spot` to `p` runs out of room.
    fn edge_towards(&self, frame: &TangentFrame, p: [f32; 2], room: &FreeSpace, level_mm: f32) -> Option<HalfPlane> {
        let mut far = p;
        // Beyond the middle of a rib the room grows away from here; the edge that counts is nearer.
        for _ in 0..12 {
            let there = frame.exp_map(self.skin, far)?;
            let lack = level_mm - room.at(self.skin, &there);
            let up = frame.transport_from(&there, &room.uphill(self.skin, &there)?);
            let length = up[0].hypot(up[1]).max(1e-6);
            let normal = [-up[0] / length, -up[1] / length];
            let offset = normal[0] * far[0] + normal[1] * far[1] - lack;
            if offset > 0.0 && normal[0] * p[0] + normal[1] * p[1] > offset {
                return Some(HalfPlane { normal, offset });
            }
            far = [far[0] * 0.8, far[1] * 0.8];
        }
        None
    }

    /// Whether the outline of a cell has room everywhere.
    pub fn has_room(&self, i: usize, polygon: &[[f32; 2]], round: f32, room: &FreeSpace) -> bool {
        outline_has_room(self.skin, &self.sites[i], &offset_outline(polygon, round, LOOK_MM), room)
    }
}

/// Whether every point of an outline, given by log maps from a site, is on the skin and has room.
pub fn outline_has_room(skin: &Surface, site: &Site, outline: &[[f32; 2]], room: &FreeSpace) -> bool {
    let free = room.free_radius_mm(skin, &site.frame);
    let reach = outline.iter().map(|p| p[0].hypot(p[1])).fold(0.0, f32::max);
    free >= reach + UNSURE_MM
        || (room.at(skin, &site.frame) > 0.0
            && outline
                .iter()
                .all(|p| site.frame.exp_map(skin, *p).is_some_and(|there| room.at(skin, &there) >= -UNSURE_MM)))
}

/// How a cell is cut.
#[derive(Debug, Clone, Copy)]
pub struct CellTrim {
    /// Half side of the box it starts from, mm.
    pub half: f32,
    /// Corner radius, mm.
    pub round: f32,
    /// Distance between the points of the outline where its room is looked up, mm.
    pub step_mm: f32,
}

/// Area and least width of a polygon offset by `round`.
pub fn grown_size(polygon: &[[f32; 2]], round: f32) -> (f32, f32) {
    let (area, _) = area_and_centroid(polygon);
    let grown = area + perimeter(polygon) * round + std::f32::consts::PI * round * round;
    (grown, least_width(polygon) + 2.0 * round)
}

/// The polygon offset by `round`, as a shape.
pub fn shape(polygon: Vec<[f32; 2]>, round: f32) -> Shape {
    Shape::RoundedPolygon { corners: polygon, round }
}
