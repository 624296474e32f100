//! The shell as a function of space: the profile carried over the skin.

mod bend;
mod covered;
mod foot_point;
mod hollows;
mod lift;
mod local_shapes;
mod near;
mod outer_face;
mod rib_lines;
mod ridges;
mod slopes;
mod smooth_normals;

use std::sync::Arc;

use mesh::{Cancelled, Hit, Job, Surface};
use nalgebra::{Point3, Vector3};
use zone::Zone;

pub(crate) use self::covered::{Covered, FAIR_REACH_MM};
use self::foot_point::foot_point;
use self::lift::LiftedEdge;
use self::local_shapes::{EMBOSS_SIDE_MM, Effect, LocalShapes};
use self::rib_lines::RibLines;
use self::ridges::{LEAST_RIDGE_MM, Ridges};
use self::slopes::slopes2;
use crate::profile::{Wall, smooth_step, straight_step};
use crate::{Design, Layout, Ribs};

/// Width of a rib's side for its height: with its rounded ends it rises at about 45 degrees.
const RIB_SIDE: f32 = 1.6;
/// Share of that width over which each end of the side is rounded.
const RIB_SIDE_ROUND: f32 = 0.35;
/// The distance to ribs is looked up this far beyond their sides, mm: that between vertices is off by less.
const RIB_SPARE_MM: f32 = 3.0;
/// A point is over a hollow where its height over the skin is more than this share of the hollow's radius.
const HOLLOW: f32 = 0.02;
/// The outer face counts where it is not farther than one over this times the inner one.
const INNER_SHARE: f32 = 0.3;

/// The function whose zero set is the shell: negative in the material, and near the shell about the distance to it.
///
/// It is not an exact signed distance: `d` is, but the distance on the skin shrinks or grows off it where the limb
/// bends, and ribs and marks tilt the outer face.
#[derive(Clone)]
pub struct Field<'a> {
    skin: &'a Surface,
    covered: Arc<Covered>,
    /// Whether the outer face stands over the skin itself and not over its fair copy.
    over_skin: bool,
    /// Distance to the trim line at each skin vertex.
    edge_mm: &'a [f32],
    /// Inner face above the skin, without the flare of the rim.
    gap_mm: Vec<f32>,
    /// Squares of its slopes where reliefs raise it; empty without them.
    gap_slope2: Vec<f32>,
    /// Share of the flare that each vertex gets.
    lift: Vec<f32>,
    /// Where on the edge that is least, and how much it is.
    least_lift: Option<(Point3<f32>, f32)>,
    /// Rounding of the edges, mm.
    round_mm: f32,
    /// Wall, without ribs and marks.
    thickness_mm: Vec<f32>,
    rib_mm: &'a [f32],
    rib_lines: RibLines,
    ridges: Ridges,
    /// Radius of the bead along the trim line; 0 where it would not show.
    bead_mm: f32,
    design: &'a Design,
    shapes: LocalShapes<'a>,
}

/// The field at one point.
pub(crate) struct Sample {
    /// Its value, negative in the material.
    pub value: f32,
    /// How far below the inner face the point is, mm; negative above it.
    pub below_inner_mm: f32,
    /// The skin triangle nearest to it.
    pub triangle: u32,
    /// Its foot point.
    pub foot: Option<Hit>,
}

/// Up to here the height of a rib is told by the distance to its middle line, mm.
fn rib_reach_mm(ribs: &Ribs) -> f32 {
    0.5 * ribs.width_mm + RIB_SIDE * ribs.height_mm + RIB_SPARE_MM
}

/// Share of its height that a mark has at this distance from its outline, mm.
fn inside_share(distance_mm: f32) -> f32 {
    smooth_step(0.5 - distance_mm / EMBOSS_SIDE_MM)
}

/// A seat is taken to be at least this deep, mm: more than rounding.
const LEAST_SEAT_MM: f32 = 0.02;

/// Where a point of the outer face lies in the seat of an inlay.
pub(crate) struct SeatPlace {
    /// How deep the seat is there, mm; 0 beside it and on other faces.
    pub(crate) depth_mm: f32,
    /// The way from the point up to the outer face without the seat; nothing on other faces.
    pub(crate) to_plain: Vector3<f32>,
    /// The triangle of the skin below it.
    pub(crate) near: u32,
}

/// How a field is made beyond what the design says.
#[derive(Debug, Clone, Copy, Default)]
pub struct Finish<'a> {
    /// Edges are rounded by at least this much, mm: less than a cell of the grid comes out torn.
    pub least_round_mm: f32,
    /// Places round which the rim is not lifted.
    pub level_at: &'a [Point3<f32>],
}

impl<'a> Field<'a> {
    /// Prepares the field of one shell. `zone` must belong to `skin`, and `layout` to both.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn new(
        skin: &'a Surface,
        zone: &'a Zone,
        design: &'a Design,
        layout: &'a Layout,
        finish: &Finish<'_>,
        job: &Job,
    ) -> Result<Self, Cancelled> {
        let count = skin.mesh().points.len();
        let summed = |base: f32, bumps: &[zone::Bump]| -> Result<Vec<f32>, Cancelled> {
            let mut values = vec![base; count];
            for bump in bumps {
                job.check()?;
                let falloff = bump.fades_over_mm().max(1e-3);
                for (value, distance) in values.iter_mut().zip(&bump.region.distance_mm) {
                    *value += bump.height_mm * smooth_step(1.0 + distance / falloff);
                }
            }
            Ok(values)
        };
        let edge_mm = &zone.covered.distance_mm[..];
        let covered = Covered::of(skin, edge_mm, job)?;
        let (near, normals) = (&covered.near, &covered.even[..]);
        let lifted = LiftedEdge { skin, near, edge_mm, room: &covered.room, level_at: finish.level_at };
        let lift = lifted.lift(design, job)?;
        let round_mm = design.rim.round_mm.max(finish.least_round_mm);
        let gap_mm = summed(design.gap_mm, &zone.reliefs)?;
        let thickness_mm = summed(design.thickness_mm, &zone.reinforcements)?;
        // More than the wall would go through it.
        let ridge_mm = round_mm.max(LEAST_RIDGE_MM).min(design.thickness_mm);
        // Nor are the edges of a first look rounded more than is set.
        let ridges = if finish.least_round_mm > 0.0 {
            Ridges::find(skin, near, |v| gap_mm[v] + design.rim.flare_mm, ridge_mm, job)?
        } else {
            Ridges::none()
        };
        let highest = |values: &[f32]| values.iter().copied().fold(0.0, f32::max);
        let outer_mm = highest(&gap_mm) + highest(&thickness_mm);
        Ok(Self {
            skin,
            over_skin: false,
            edge_mm,
            gap_slope2: if zone.reliefs.is_empty() { Vec::new() } else { slopes2(skin, &gap_mm, job)? },
            gap_mm,
            lift: lift.share,
            least_lift: lift.least,
            round_mm,
            thickness_mm,
            ridges,
            rib_mm: &layout.rib_distance_mm,
            rib_lines: RibLines::new(&layout.rib_lines, design.ribs.as_ref().map_or(1.0, rib_reach_mm)),
            bead_mm: if design.rim.bead_mm > design.thickness_mm { 0.5 * design.rim.bead_mm } else { 0.0 },
            shapes: LocalShapes::new(skin, normals, design, [round_mm, outer_mm], layout, job)?,
            covered,
            design,
        })
    }

    /// The value at `p` and the skin triangle nearest to it; `seed` is a triangle believed to be near.
    #[must_use]
    pub fn value(&self, p: &Point3<f32>, seed: Option<u32>) -> (f32, u32) {
        let sample = self.sample(p, seed);
        (sample.value, sample.triangle)
    }

    /// All that is known at `p`.
    pub(crate) fn sample(&self, p: &Point3<f32>, seed: Option<u32>) -> Sample {
        let Some(hit) = self.skin.nearest(p, seed) else {
            return Sample { value: f32::INFINITY, below_inner_mm: f32::INFINITY, triangle: 0, foot: None };
        };
        let height = self.skin.signed_distance(p, &hit);
        let (foot, wall, fair) = self.under(p, &hit, height);
        let above_inner =
            self.ridges.above_inner(self.skin, p, (&hit, height, height - wall.inner_mm), |other| self.inner_mm(other));
        let mut below_outer = wall.outer_mm - height;
        // Where the inner face is much the nearer, the outer one does not matter.
        if above_inner > INNER_SHARE * below_outer {
            below_outer = self.below_outer(p, (&hit, height), (&foot, &wall), fair);
        }
        let value = wall.signed_distance(above_inner, below_outer);
        Sample { value, below_inner_mm: -above_inner, triangle: hit.triangle, foot: Some(foot) }
    }

    /// The foot point of a point, given with the skin nearest to it and its height over that, and the wall over it; and
    /// the nearest point of the fair copy where that was looked up.
    ///
    /// In the outer half of the wall the search starts below the nearest point of the fair copy over hollows, where the
    /// nearest point of the skin jumps from side to side, and where it comes to no end from the latter. Elsewhere it starts
    /// from the skin, as the fair copy lies aside of a ridge.
    fn under(&self, p: &Point3<f32>, hit: &Hit, height: f32) -> (Hit, Wall, Option<Hit>) {
        let (mut foot, reached) = foot_point(self.skin, self.normals(), p, hit);
        let mut fair = None;
        let is_trusted = || reached && self.skin.interpolate(&self.covered.hollow_per_mm, hit) * height < HOLLOW;
        if !self.over_skin && height > self.middle_mm(hit) && !is_trusted() {
            let mut from = self.covered.fair.nearest_beside(p, hit.triangle);
            fair = Some(from);
            let corners = self.skin.mesh().corners(from.triangle as usize);
            let below = corners.iter().zip(from.weights).map(|(corner, weight)| corner.coords * weight);
            from.point = Point3::from(below.sum::<Vector3<f32>>());
            foot = foot_point(self.skin, self.normals(), p, &from).0;
        }
        let wall = self.at_height(&foot, height);
        (foot, wall, fair)
    }

    /// How far a point, given with the skin nearest to it and its height over that, is below the outer face of the wall
    /// over its foot, mm. `near_fair` is the nearest point of the fair copy where it is known.
    fn below_outer(
        &self,
        p: &Point3<f32>,
        (hit, height): (&Hit, f32),
        (foot, wall): (&Hit, &Wall),
        near_fair: Option<Hit>,
    ) -> f32 {
        if self.over_skin {
            return wall.outer_mm - height;
        }
        let (fair, off_mm) = (&self.covered.fair, self.covered.fair_off_mm);
        let near_fair = near_fair.unwrap_or_else(|| fair.nearest_beside(p, hit.triangle));
        let over_fair = fair.signed_distance(p, &near_fair);
        // Surfaces that lie so near have distances as near. Beyond its own end, or across a hollow, the fair one tells
        // another.
        let over_fair = over_fair.clamp(height - off_mm, height + off_mm);
        wall.outer_mm + self.skin.interpolate(&self.covered.above_fair_mm, foot) - over_fair
    }

    /// Distance on the skin to the nearest opening, negative inside; infinite where none is near.
    pub(crate) fn opening_mm(&self, hit: &Hit) -> f32 {
        let openings = self.shapes.at(hit, self.middle_mm(hit)).filter(|(_, effect)| *effect == Effect::Open);
        openings.map(|(distance, _)| distance).fold(f32::INFINITY, f32::min)
    }

    /// About how high the middle of the wall is over a skin point, mm.
    fn middle_mm(&self, hit: &Hit) -> f32 {
        self.skin.interpolate(&self.gap_mm, hit) + 0.5 * self.skin.interpolate(&self.thickness_mm, hit)
    }

    /// The wall over one skin point, its openings as they are in its middle.
    #[must_use]
    pub fn at(&self, hit: &Hit) -> Wall {
        self.at_height(hit, self.middle_mm(hit))
    }

    /// Where along the edge the rim is lifted least, and by what share of what is set.
    #[must_use]
    pub fn least_lift(&self) -> Option<(Point3<f32>, f32)> {
        self.least_lift
    }

    /// How high the inner face is over a skin point, mm.
    fn inner_mm(&self, hit: &Hit) -> f32 {
        let rim = self.design.rim.eased(self.skin.interpolate(&self.lift, hit));
        self.skin.interpolate(&self.gap_mm, hit) + rim.flare_at(self.skin.interpolate(self.edge_mm, hit))
    }

    /// The wall over one skin point, with openings and marks as they are at a height over it.
    fn at_height(&self, hit: &Hit, height_mm: f32) -> Wall {
        let trim = self.skin.interpolate(self.edge_mm, hit);
        let mut opening = f32::INFINITY;
        let mut emboss = 0.0;
        for (distance, effect) in self.shapes.at(hit, height_mm) {
            match effect {
                Effect::Open => opening = opening.min(distance),
                Effect::Emboss(height) | Effect::Inlay(height) => emboss += height * inside_share(distance),
            }
        }
        let rim = self.design.rim.eased(self.skin.interpolate(&self.lift, hit));
        let inner = self.inner_mm(hit);
        let mut thickness = self.skin.interpolate(&self.thickness_mm, hit) + emboss;
        if let (Some(ribs), false) = (&self.design.ribs, self.rib_mm.is_empty()) {
            // Near any edge the rib sinks into the wall.
            let about = self.skin.interpolate(self.rib_mm, hit);
            // Only what is near over the skin is looked at: straight ahead there may be another finger.
            let near = (about < rib_reach_mm(ribs)).then(|| self.rib_lines.distance_mm(&hit.point)).flatten();
            let from_side = near.unwrap_or(about) - 0.5 * ribs.width_mm;
            let foot = RIB_SIDE * ribs.height_mm;
            let sunk = smooth_step(trim.min(opening) / (self.round_mm + ribs.height_mm));
            thickness += ribs.height_mm * straight_step(1.0 - from_side / foot, RIB_SIDE_ROUND) * sunk;
        }
        let rise = rim.rise_at(trim);
        let slope2 = if self.gap_slope2.is_empty() { 0.0 } else { self.skin.interpolate(&self.gap_slope2, hit) };
        // Measured along the skin's normal, a wall that leans is thicker than square to it.
        let outer = inner + thickness * (1.0 + rise * rise + slope2).sqrt();
        Wall {
            inner_mm: inner,
            outer_mm: outer,
            round_mm: self.round_mm,
            trim_mm: trim,
            opening_mm: opening,
            rise,
            slope2,
            bead_mm: self.bead_mm,
        }
    }

    /// Where a point of the outer face lies in the seat of an inlay. `seed` is a triangle believed to be near.
    pub(crate) fn seat_at(&self, p: &Point3<f32>, seed: Option<u32>) -> Option<SeatPlace> {
        let hit = self.skin.nearest(p, seed)?;
        let height = self.skin.signed_distance(p, &hit);
        let (foot, wall, fair) = self.under(p, &hit, height);
        // The seat lies in the outer half of the wall.
        if height < 0.5 * (wall.inner_mm + wall.outer_mm) {
            return Some(SeatPlace { depth_mm: 0.0, to_plain: Vector3::zeros(), near: hit.triangle });
        }
        let depth: f32 = self
            .shapes
            .at(&foot, height)
            .map(|(distance, effect)| match effect {
                Effect::Inlay(height) => -height * inside_share(distance),
                _ => 0.0,
            })
            .sum();
        let corners = self.skin.mesh().triangles[foot.triangle as usize];
        let sum: Vector3<f32> = corners.iter().zip(foot.weights).map(|(v, w)| self.normals()[*v as usize] * w).sum();
        let up = sum.try_normalize(1e-6).unwrap_or_else(|| self.skin.normal_at(&foot));
        let lean = (1.0 + wall.rise * wall.rise + wall.slope2).sqrt();
        let depth_mm = depth * lean;
        // From where it is: on the steep side of a seat a point that was moved a little is deeper or less deep by as much.
        let below_plain = self.below_outer(p, (&hit, height), (&foot, &wall), fair) + depth_mm;
        Some(SeatPlace { depth_mm, to_plain: up * below_plain.max(LEAST_SEAT_MM), near: hit.triangle })
    }

    /// The inner and the outer face over a point of the skin, along the way from it in which the wall is built up, mm;
    /// openings as they are in the middle of the wall.
    #[must_use]
    pub fn faces_at(&self, hit: &Hit, wall: &Wall) -> [f32; 2] {
        let corners = self.skin.mesh().triangles[hit.triangle as usize];
        let thicker: f32 = corners.iter().zip(hit.weights).map(|(v, w)| self.thicker_over(*v) * w).sum();
        [wall.inner_mm, wall.outer_mm + thicker]
    }

    /// The place so high over a point of the skin, in the way in which the wall is built up there.
    #[must_use]
    pub fn over(&self, hit: &Hit, height_mm: f32) -> Point3<f32> {
        let corners = self.skin.mesh().triangles[hit.triangle as usize];
        let sum: Vector3<f32> = corners.iter().zip(hit.weights).map(|(v, w)| self.normals()[*v as usize] * w).sum();
        hit.point + sum.try_normalize(1e-6).unwrap_or_else(|| self.skin.normal_at(hit)) * height_mm
    }

    /// Over a vertex of the skin, the inner and the outer face, along its normal from it, mm.
    #[must_use]
    pub fn faces_over(&self, v: u32, wall: &Wall) -> [f32; 2] {
        [wall.inner_mm, wall.outer_mm + self.thicker_over(v)]
    }

    /// The same built up over the skin itself: rougher, but of a hollow it makes less.
    #[must_use]
    pub fn over_skin(self) -> Self {
        Self { over_skin: true, ..self }
    }

    /// Directions in which the wall is built up over the vertices of the skin.
    fn normals(&self) -> &[Vector3<f32>] {
        if self.over_skin { &self.covered.own } else { &self.covered.even }
    }

    /// By how much the fair outer face makes the wall thicker over a vertex of the skin than was set, mm.
    #[must_use]
    pub fn thicker_over(&self, v: u32) -> f32 {
        if self.over_skin {
            return 0.0;
        }
        let (own, fair) = (self.skin.mesh().points[v as usize], self.covered.fair.mesh().points[v as usize]);
        self.covered.above_fair_mm[v as usize] - (own - fair).dot(&self.skin.vertex_normals()[v as usize])
    }

    /// How high over a vertex of the skin the outer face can be anywhere near it, mm.
    #[must_use]
    pub fn highest_over(&self, v: u32, wall: &Wall) -> f32 {
        let bead = wall.inner_mm + 2.0 * wall.bead_mm * (1.0 + wall.rise * wall.rise).sqrt();
        let fair_mm = self.covered.above_fair_mm[v as usize] + self.covered.fair_off_mm;
        wall.outer_mm.max(bead) + if self.over_skin { 0.0 } else { fair_mm }
    }

    /// The skin below the shell.
    #[must_use]
    pub fn skin(&self) -> &Surface {
        self.skin
    }

    /// A hit on a skin vertex, through its first triangle.
    #[must_use]
    pub fn on_vertex(&self, v: u32) -> Option<Hit> {
        let mesh = self.skin.mesh();
        let t = *self.skin.adjacency().triangles_around(v).first()?;
        let k = mesh.triangles[t as usize].iter().position(|w| *w == v)?;
        let mut weights = [0.0; 3];
        weights[k] = 1.0;
        let feature = mesh::TriangleFeature::Vertex(k as u8);
        Some(Hit { triangle: t, point: mesh.points[v as usize], weights, distance2: 0.0, feature })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample_skins::{inside_box, zone};
    use crate::{Rim, arrange};
    use test_shapes::{Diagonals, height_field};

    /// The edge of a bone, rounded with a radius of about 13 mm, from level ground to a side of 56 degrees, and bent with a
    /// radius of 40 mm along it.
    fn edge_of_a_bone() -> Surface {
        let height = |x: f64, y: f64| -7.5 * ((x - 40.0) / 5.0).exp().ln_1p() - (y - 40.0).powi(2) / 80.0;
        height_field(160, 160, 0.5, Diagonals::Alternate, height).build()
    }

    /// What lies along one normal of the skin has one foot point, the start of that normal, in both halves of the wall:
    /// otherwise the sides of an opening would have a step in the middle.
    #[test]
    fn points_along_a_normal_of_the_edge_of_a_bone_have_its_start_as_foot_point() {
        let skin = edge_of_a_bone();
        let zone = zone(&skin, |p| inside_box([34.0, 34.0], [p.x - 40.0, p.y - 40.0]));
        let rim = Rim { round_mm: 1.0, flare_mm: 0.0, flare_width_mm: 1.0, bead_mm: 0.0 };
        let design = Design { gap_mm: 3.0, thickness_mm: 2.6, rim, ..Design::default() };
        let job = Job::silent();
        let layout = arrange(&skin, &zone, &design, &job).unwrap();
        let field = Field::new(&skin, &zone, &design, &layout, &Finish::default(), &job).unwrap();
        let mut seen = 0;
        for (v, place) in skin.mesh().points.iter().enumerate() {
            let (across, along) = ((place.x - 40.0).abs(), (place.y - 40.0).abs());
            if across > 8.0 || along > 15.0 {
                continue;
            }
            seen += 1;
            for height in [3.4, 4.2, 5.4] {
                let sample = field.sample(&(place + field.normals()[v] * height), None);
                let off = (sample.foot.unwrap().point - place).norm();
                assert!(off < 0.3, "{off} mm off {place} at {height}");
            }
        }
        assert!(seen > 1000, "{seen}");
    }
}
