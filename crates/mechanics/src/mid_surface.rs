//! The middle surface of a guard, cut into triangles: what the shell elements stand for.
//!
//! It is drawn on the map of the zone, from the same layout as the solid: the trim line and the openings are outlines of a
//! plane region, and each node is lifted from the map to the skin and from there to the middle of the wall. Ribs, raised
//! marks and the bead are no bumps of that surface: they make the wall thicker to one side of it.

use std::collections::{BTreeMap, BTreeSet};

use mesh::{Cancelled, Hit, Job, Surface};
use nalgebra::{Point2, Point3, Vector3, Vector6};
use rayon::prelude::*;
use shell::{Design, Field, Finish, Layout, Opening, Shape};
use zone::Zone;
use zone::map::{MapError, ZoneMap};

use crate::elements::{Facet, Section, Structure, principal};
use crate::plane_mesh::{PlaneMesh, PlaneMeshError, plane_mesh};

/// How finely a guard is cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fineness {
    /// Sides of triangles far from edges, mm.
    pub side_mm: f64,
    /// Sides along the trim line, mm.
    pub rim_side_mm: f64,
    /// Sides along openings, mm.
    pub opening_side_mm: f64,
    /// Openings with a shorter outline are left out, mm.
    pub least_outline_mm: f64,
}

impl Default for Fineness {
    fn default() -> Self {
        Self { side_mm: 4.0, rim_side_mm: 2.5, opening_side_mm: 1.5, least_outline_mm: 8.0 }
    }
}

/// Why a guard has no middle surface.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MidSurfaceError {
    /// The zone cannot be laid flat.
    #[error(transparent)]
    Map(MapError),
    /// The zone closes round the limb.
    #[error("the guard closes round the limb, and strength is told only of guards that leave a gap")]
    Closed,
    /// The region cannot be cut into triangles.
    #[error(transparent)]
    Mesh(#[from] PlaneMeshError),
    /// Stopped on request.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl From<MapError> for MidSurfaceError {
    fn from(error: MapError) -> Self {
        match error {
            MapError::Cancelled(stop) => Self::Cancelled(stop),
            other => Self::Map(other),
        }
    }
}

/// A wall at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slice {
    /// Its thickness, mm.
    pub thickness_mm: f64,
    /// How far its middle lies over the surface of the nodes, mm.
    pub over_mm: f64,
}

/// The middle surface of a guard.
#[derive(Debug, Clone, Default)]
pub struct MidSurface {
    /// Nodes, mm.
    pub points: Vec<Point3<f64>>,
    /// Triangles, their corners against the clock seen from outside.
    pub triangles: Vec<[u32; 3]>,
    /// The skin below each node.
    pub below: Vec<Hit>,
    /// How high the inner face stands over the skin at each node, mm.
    pub inner_mm: Vec<f64>,
    /// The wall at three places in each triangle.
    pub walls: Vec<[Slice; 3]>,
    /// What is not in it, one sentence each.
    pub notices: Vec<String>,
}

/// Most nodes: a million unknowns take some gigabytes.
const MOST_POINTS: usize = 150_000;
/// Places in a triangle at which the wall is looked at, in area coordinates: exact for what is quadratic.
pub const PLACES: [[f64; 3]; 3] =
    [[2.0 / 3.0, 1.0 / 6.0, 1.0 / 6.0], [1.0 / 6.0, 2.0 / 3.0, 1.0 / 6.0], [1.0 / 6.0, 1.0 / 6.0, 2.0 / 3.0]];
/// A wall is taken to be at least this thick, mm.
const LEAST_MM: f64 = 0.1;
/// Steps of bisection to the side of an opening: to a ten-thousandth of its size.
const STEPS: usize = 14;

impl MidSurface {
    /// The middle surface of a guard over a layout that was made for the same zone and design.
    ///
    /// # Errors
    /// [`MidSurfaceError`].
    pub fn new(
        skin: &Surface,
        zone: &Zone,
        design: &Design,
        layout: &Layout,
        fineness: &Fineness,
        job: &Job,
    ) -> Result<Self, MidSurfaceError> {
        let map = ZoneMap::make(skin, zone, job)?;
        // Only then are there points on both sides of a seam.
        let mut vertices: Vec<u32> = map.points().map(|(vertex, _)| vertex).collect();
        vertices.sort_unstable();
        if vertices.windows(2).any(|two| two[0] == two[1]) {
            return Err(MidSurfaceError::Closed);
        }
        let whole = Field::new(skin, zone, design, layout, &Finish::default(), job)?;
        let bare_design = Design { ribs: None, marks: Vec::new(), pictures: Vec::new(), ..design.clone() };
        let bare_layout =
            Layout { embosses: Vec::new(), rib_lines: Vec::new(), rib_distance_mm: Vec::new(), ..layout.clone() };
        let bare = Field::new(skin, zone, &bare_design, &bare_layout, &Finish::default(), job)?;
        let over = OverMap { skin, map: &map, whole: &whole, bare: &bare };
        let mut notices = Vec::new();
        let outlines = over.outlines(layout, fineness, &mut notices, job)?;
        let flat = plane_mesh(&outlines, fineness.side_mm, MOST_POINTS)?;
        Ok(Self { notices, ..over.lifted(&flat, job)? })
    }

    /// Its area, mm².
    #[must_use]
    pub fn area_mm2(&self) -> f64 {
        (0..self.triangles.len()).map(|t| self.area_of(t)).sum()
    }

    /// Its volume, the wall as thick as it is, mm³.
    #[must_use]
    pub fn volume_mm3(&self) -> f64 {
        let mean = |wall: &[Slice; 3]| wall.iter().map(|slice| slice.thickness_mm).sum::<f64>() / 3.0;
        self.walls.iter().enumerate().map(|(t, wall)| self.area_of(t) * mean(wall)).sum()
    }

    /// The structure of one material: Young's modulus in MPa and Poisson's ratio.
    #[must_use]
    pub fn of(&self, young_mpa: f64, poisson: f64) -> Structure {
        let section = |wall: &[Slice; 3]| {
            let [a, b, c] = wall.map(|slice| Section::plain(young_mpa, poisson, slice.thickness_mm, slice.over_mm));
            a.with(&b).with(&c).scaled(1.0 / 3.0)
        };
        Structure {
            points: self.points.clone(),
            triangles: self.triangles.clone(),
            sections: self.walls.iter().map(section).collect(),
        }
    }

    /// The way out of the limb at a node, a unit vector.
    #[must_use]
    pub fn out(&self, v: usize) -> Vector3<f64> {
        let from = self.below[v].point.cast::<f64>();
        (self.points[v] - from).try_normalize(1e-9).unwrap_or_else(Vector3::z)
    }

    /// Its edges as closed lines of nodes, the longest first: the trim line, and the openings.
    #[must_use]
    pub fn edges(&self) -> Vec<Vec<u32>> {
        // Sides of one triangle only.
        let mut sides = BTreeSet::new();
        for [a, b, c] in &self.triangles {
            for [p, q] in [[*a, *b], [*b, *c], [*c, *a]] {
                if !sides.remove(&[q, p]) {
                    sides.insert([p, q]);
                }
            }
        }
        let mut left: BTreeMap<u32, u32> = sides.into_iter().map(|[p, q]| (p, q)).collect();
        let mut edges = Vec::new();
        while let Some(start) = left.keys().next().copied() {
            let (mut line, mut at) = (Vec::new(), start);
            while let Some(to) = left.remove(&at) {
                line.push(at);
                at = to;
            }
            edges.push(line);
        }
        let long = |line: &Vec<u32>| {
            let side = |i: usize| self.points[line[i] as usize] - self.points[line[(i + 1) % line.len()] as usize];
            (0..line.len()).map(|i| side(i).norm()).sum::<f64>()
        };
        edges.sort_by(|a, b| long(b).total_cmp(&long(a)));
        edges
    }

    /// The way out of the limb in the mean of all nodes, a unit vector across the limb's axis.
    #[must_use]
    pub fn mean_out(&self) -> Vector3<f64> {
        let sum: Vector3<f64> = (0..self.points.len()).map(|v| self.out(v)).sum();
        Vector3::new(sum.x, sum.y, 0.0).try_normalize(1e-9).unwrap_or_else(Vector3::x)
    }

    /// How steeply a closed line of nodes runs along the limb at each, as a cosine.
    pub(crate) fn turning(&self, line: &[u32]) -> Vec<f64> {
        let at = |i: usize| self.points[line[i % line.len()] as usize];
        (0..line.len())
            .map(|i| {
                let way = at(i + 1) - at(i + line.len() - 1);
                way.z / way.norm().max(1e-9)
            })
            .collect()
    }

    /// The greatest principal strain at the faces of a triangle.
    pub(crate) fn greatest_strain(&self, structure: &Structure, t: usize, moved: &[Vector6<f64>]) -> Option<f64> {
        let facet = Facet::new(structure.corners(t))?;
        let strains = facet.strains(&structure.sections[t], &structure.unknowns_of(t, moved));
        let mean = |of: fn(&Slice) -> f64| self.walls[t].iter().map(of).sum::<f64>() / 3.0;
        let (thickness, over) = (mean(|slice| slice.thickness_mm), mean(|slice| slice.over_mm));
        let at = |side: f64| {
            let strain = strains.at(over + side * 0.5 * thickness);
            // Principal strains as principal stresses, the shear strain counted once.
            principal(&Vector3::new(strain.x, strain.y, 0.5 * strain.z)).map(f64::abs)
        };
        Some([at(1.0), at(-1.0)].as_flattened().iter().copied().fold(0.0, f64::max))
    }

    /// A third of the area of its triangles for each node, mm²: of the middle surface, and of the skin below.
    #[must_use]
    pub fn areas_mm2(&self) -> Vec<[f64; 2]> {
        let mut areas = vec![[0.0; 2]; self.points.len()];
        for corners in &self.triangles {
            let third = |place: &dyn Fn(u32) -> Point3<f64>| {
                let [a, b, c] = corners.map(place);
                (b - a).cross(&(c - a)).norm() / 6.0
            };
            let shares = [third(&|v| self.points[v as usize]), third(&|v| self.below[v as usize].point.cast::<f64>())];
            corners.iter().for_each(|v| (0..2).for_each(|k| areas[*v as usize][k] += shares[k]));
        }
        areas
    }

    /// How high the outer face stands over each node, what stands on the wall counted in, mm.
    #[must_use]
    pub fn outer_mm(&self) -> Vec<f64> {
        let mut outer = vec![0.0_f64; self.points.len()];
        for (corners, wall) in self.triangles.iter().zip(&self.walls) {
            // The place of the wall that lies nearest to the corner.
            for (v, slice) in corners.iter().zip(wall) {
                let height = slice.over_mm + 0.5 * slice.thickness_mm;
                outer[*v as usize] = outer[*v as usize].max(height);
            }
        }
        outer
    }

    fn area_of(&self, t: usize) -> f64 {
        let [a, b, c] = self.triangles[t].map(|v| self.points[v as usize]);
        0.5 * (b - a).cross(&(c - a)).norm()
    }
}

/// The wall over the map of the zone.
struct OverMap<'a> {
    skin: &'a Surface,
    map: &'a ZoneMap,
    whole: &'a Field<'a>,
    /// The same wall without what stands on it.
    bare: &'a Field<'a>,
}

impl OverMap<'_> {
    /// The trim line and the openings on the map; `notices` gets what is left out.
    fn outlines(
        &self,
        layout: &Layout,
        fineness: &Fineness,
        notices: &mut Vec<String>,
        job: &Job,
    ) -> Result<Vec<Vec<Point2<f64>>>, Cancelled> {
        let trim = self.map.outline().iter().filter(|line| line.len() >= 3);
        let mut outlines: Vec<Vec<Point2<f64>>> = trim.map(|line| spaced(line, fineness.rim_side_mm)).collect();
        let (drawn, plain): (Vec<&Opening>, Vec<&Opening>) =
            layout.openings.iter().partition(|opening| matches!(opening.shape, Shape::Drawing { .. }));
        let (mut small, drawn) = (0, drawn.len());
        // Each on its own thread: sides are sought by many looks at the wall.
        let found = plain.par_iter().map(|opening| {
            job.check()?;
            Ok(on_map(self.skin, self.map, self.bare, opening))
        });
        for outline in found.collect::<Result<Vec<_>, Cancelled>>()? {
            if length(&outline) < fineness.least_outline_mm {
                small += 1;
                continue;
            }
            outlines.push(spaced(&outline, fineness.opening_side_mm));
        }
        if small > 0 {
            notices.push(format!(
                "{small} small openings are left out of the strength: their outlines are shorter than {} mm.",
                fineness.least_outline_mm
            ));
        }
        if drawn > 0 {
            notices.push(format!("{drawn} letters or digits that are cut through are left out of the strength."));
        }
        Ok(outlines)
    }

    /// The triangles of the map lifted to the middle of the wall.
    fn lifted(&self, flat: &PlaneMesh, job: &Job) -> Result<MidSurface, Cancelled> {
        let below = job.each(flat.points.len(), |i| self.map.at(&flat.points[i]).map(|local| local.hit))?;
        let middle = |hit: &Hit| {
            let [inner, outer] = self.bare.faces_at(hit, &self.bare.at(hit));
            (self.bare.over(hit, 0.5 * (inner + outer)).cast::<f64>(), f64::from(inner))
        };
        let lifted = job.each(below.len(), |i| below[i].as_ref().map(middle))?;
        let walls = job.each(flat.triangles.len(), |t| {
            let corners = flat.triangles[t].map(|v| flat.points[v as usize].coords);
            let places = PLACES.map(|[a, b, c]| {
                let place = Point2::from(corners[0] * a + corners[1] * b + corners[2] * c);
                Some(slice(self.whole, self.bare, &self.map.at(&place)?.hit))
            });
            let [Some(a), Some(b), Some(c)] = places else { return None };
            Some([a, b, c])
        })?;
        // What lies off the map, at its very border, is left out with its triangles.
        let mut number = vec![u32::MAX; below.len()];
        let (mut made, kept) = (MidSurface::default(), flat.triangles.iter().zip(walls));
        for (corners, wall) in kept {
            let (Some(wall), true) = (wall, corners.iter().all(|v| below[*v as usize].is_some())) else { continue };
            made.walls.push(wall);
            made.triangles.push(corners.map(|v| {
                let number = &mut number[v as usize];
                if let (u32::MAX, Some(hit), Some((point, inner_mm))) = (*number, below[v as usize], lifted[v as usize])
                {
                    *number = made.points.len() as u32;
                    made.points.push(point);
                    made.inner_mm.push(inner_mm);
                    made.below.push(hit);
                }
                *number
            }));
        }
        Ok(made)
    }
}

/// The wall over a point of the skin, beside that without ribs and marks.
fn slice(whole: &Field<'_>, bare: &Field<'_>, hit: &Hit) -> Slice {
    let (wall, plain) = (whole.at(hit), bare.at(hit));
    let [inner, mut outer] = whole.faces_at(hit, &wall).map(f64::from);
    let [low, high] = bare.faces_at(hit, &plain).map(f64::from);
    // The bead is a round bar along the trim line that lies on the inner face.
    let (radius, off) = (f64::from(wall.bead_mm), f64::from(wall.trim_mm - wall.bead_mm));
    if radius > 0.0 && off.abs() < radius {
        outer = outer.max(inner + radius + (radius * radius - off * off).sqrt());
    }
    // Square to the wall, where it leans.
    let lean = f64::from(1.0 + wall.rise * wall.rise + wall.slope2).sqrt();
    // Along edges the corners are rounded off.
    let round = f64::from(wall.round_mm).min(0.5 * (outer - inner));
    let short = (round - f64::from(wall.edge_mm())).clamp(0.0, round);
    let off = 2.0 * (round - (round * round - short * short).sqrt());
    Slice {
        thickness_mm: ((outer - inner - off) / lean).max(LEAST_MM),
        over_mm: 0.5 * ((inner + outer) - (low + high)) / lean,
    }
}

/// The outline of an opening on the map, as it is in the middle of the wall: openings have their own size there, and lengths
/// over the skin grow.
fn on_map(skin: &Surface, map: &ZoneMap, bare: &Field<'_>, opening: &Opening) -> Vec<Point2<f64>> {
    let outline = opening.shape.outline(0.5);
    let middle =
        outline.iter().fold([0.0_f32; 2], |sum, p| [sum[0] + p[0], sum[1] + p[1]]).map(|x| x / outline.len() as f32);
    let at = |p: &[f32; 2], share: f32| {
        let place = [0, 1].map(|k| middle[k] + share * (p[k] - middle[k]));
        opening.chart.skin_point(skin, place)
    };
    let side = |p: &[f32; 2]| {
        // From where it is surely open outward to where it is closed.
        let (mut open, mut closed) = (0.4_f32, 1.15_f32);
        for _ in 0..STEPS {
            let share = 0.5 * (open + closed);
            match at(p, share) {
                Some(hit) if bare.at(&hit).opening_mm < 0.0 => open = share,
                _ => closed = share,
            }
        }
        map.flat_of(&at(p, 0.5 * (open + closed))?)
    };
    outline.iter().filter_map(side).collect()
}

/// Length of a closed line.
fn length(line: &[Point2<f64>]) -> f64 {
    (0..line.len()).map(|i| (line[(i + 1) % line.len()] - line[i]).norm()).sum()
}

/// Points of a closed line at equal distances, about `side_mm`, and at least eight.
fn spaced(line: &[Point2<f64>], side_mm: f64) -> Vec<Point2<f64>> {
    let whole = length(line);
    let count = ((whole / side_mm).round() as usize).max(8);
    let mut points = Vec::with_capacity(count);
    let (mut before, mut i) = (0.0, 0);
    for n in 0..count {
        let wanted = whole * n as f64 / count as f64;
        loop {
            let (a, b) = (line[i % line.len()], line[(i + 1) % line.len()]);
            let side = (b - a).norm();
            if before + side >= wanted || i > 2 * line.len() {
                let share = if side > 0.0 { (wanted - before) / side } else { 0.0 };
                points.push(a + (b - a) * share.clamp(0.0, 1.0));
                break;
            }
            before += side;
            i += 1;
        }
    }
    points
}
