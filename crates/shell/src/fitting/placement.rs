//! Whether a fitting or mark fits at its place: inside the zone, clear of the rim and of other things, on skin that is
//! flat enough.

use mesh::{Cancelled, Hit, Job, Surface};
use nalgebra::Point3;
use zone::Zone;

use super::name;
use crate::design_check::SettingOutOfRange;
use crate::limits::{MIN_LIGAMENT_MM, rim_wall_mm};
use crate::{Chart, Design, DesignItem, Layout, Shape, ShellError};

/// Least wall between a strap slot and the trim line, mm: it carries the pull of the strap.
pub const STRAP_WALL_MM: f32 = 4.0;
/// Error of a length on the skin, mm: a wall that is exactly the least one by its numbers must pass.
const MEASURED_MM: f32 = 0.01;
/// A point farther off the skin than this is a mistake, mm.
const FAR_MM: f32 = 30.0;
/// Greatest turn of the skin between the middle and the outline of a shape, degrees.
const GREATEST_TURN_DEG: f32 = 75.0;

/// What things are placed on.
#[derive(Clone, Copy)]
pub(in crate::fitting) struct Workpiece<'a> {
    pub skin: &'a Surface,
    pub zone: &'a Zone,
    pub design: &'a Design,
    pub job: &'a Job,
    /// Only whether things fit is asked: the first misfit will do, which need not be the worst.
    pub only_asked: bool,
}

/// Why a shape does not fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::fitting) enum Reason {
    /// The skin ends, or its map does.
    SkinEnds,
    /// Closer to the rim than needed; negative outside the zone.
    Rim {
        /// How close.
        has_mm: f32,
        /// How close is allowed.
        needs_mm: f32,
        /// Only at both ends of its length: the zone is too narrow there, and moving it does not help much.
        both_ends: bool,
    },
    /// Closer to another item than needed; negative where they overlap.
    Meets { other: DesignItem, has_mm: f32 },
    /// The skin turns away under it.
    Bent { turn_deg: f32 },
}

/// Why a shape does not fit, and the skin point where that is worst.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::fitting) struct Misfit {
    pub reason: Reason,
    pub place: Point3<f32>,
}

impl Misfit {
    /// What is wrong, as a clause about `thing`.
    pub fn what(&self, thing: &str, design: &Design) -> String {
        match self.reason {
            Reason::SkinEnds => format!("{thing} reaches beyond the scanned skin"),
            Reason::Rim { needs_mm, both_ends: true, .. } => {
                format!("the zone is too narrow for {thing}, whose ends need {} to its edge", needed(needs_mm, design))
            }
            Reason::Rim { has_mm, needs_mm, .. } if has_mm <= 0.0 => {
                let needed = needed(needs_mm, design);
                format!("{thing} reaches {:.1} mm beyond the zone's edge and must stay inside it by {needed}", -has_mm)
            }
            Reason::Rim { has_mm, needs_mm, .. } => {
                format!("{thing} is {has_mm:.1} mm from the zone's edge and needs {}", needed(needs_mm, design))
            }
            Reason::Meets { other, has_mm } if has_mm <= 0.0 => {
                format!("{thing} overlaps {}", name::of_item(other, design))
            }
            Reason::Meets { other, has_mm } => {
                let other = name::of_item(other, design);
                format!("{thing} is {has_mm:.1} mm from {other} and needs {MIN_LIGAMENT_MM:.1} mm")
            }
            Reason::Bent { turn_deg } => {
                format!("the limb turns by {turn_deg:.0} degrees under {thing}, more than {GREATEST_TURN_DEG:.0}")
            }
        }
    }

    pub fn error(&self, setting: String, thing: &str, design: &Design, cure: &str) -> ShellError {
        ShellError::CannotBuild { setting, place: self.place, what: self.what(thing, design), cure: cure.to_owned() }
    }
}

/// A distance to the edge, and the setting that it comes from where it is not always the same.
fn needed(needs_mm: f32, design: &Design) -> String {
    if design.rim.round_mm > 0.0 && needs_mm == rim_wall_mm(design) {
        let rim = if needs_mm > MIN_LIGAMENT_MM + design.rim.round_mm + 1e-4 {
            "bead of the rim, rim.bead_mm"
        } else {
            "rounding of the rim, rim.round_mm"
        };
        format!("{needs_mm:.1} mm ({MIN_LIGAMENT_MM} and the {rim})")
    } else {
        format!("{needs_mm:.1} mm")
    }
}

impl<'a> Workpiece<'a> {
    /// Refuses a zone that was made for another skin, before its distances are looked up.
    pub fn new(skin: &'a Surface, zone: &'a Zone, design: &'a Design, job: &'a Job) -> Result<Self, ShellError> {
        if zone.covered.distance_mm.len() == skin.mesh().points.len() && !skin.mesh().triangles.is_empty() {
            return Ok(Self { skin, zone, design, job, only_asked: false });
        }
        Err(ShellError::CannotBuild {
            setting: "zone".to_owned(),
            place: skin.mesh().points.first().copied().unwrap_or_default(),
            what: format!(
                "the zone was made for a skin of {} points and this one has {}",
                zone.covered.distance_mm.len(),
                skin.mesh().points.len()
            ),
            cure: "Make the zone again on this limb.".to_owned(),
        })
    }

    /// A chart with its origin at a skin point.
    pub fn chart(&self, at: &Hit, turn_deg: f32, radius_mm: f32) -> Result<Chart, Cancelled> {
        Chart::new(self.skin, at, turn_deg, radius_mm, self.job)
    }

    /// Distance to the trim line over a skin point, negative outside the zone.
    pub fn edge_mm(&self, at: &Hit) -> f32 {
        self.skin.interpolate(&self.zone.covered.distance_mm, at)
    }

    /// Tests the outline point by point, and the inside so that nothing hides there; `None` where the shape fits.
    ///
    /// `hollow` is the least scale between a length in the wall and the same length on the skin, at most 1.
    pub fn misfit(
        &self,
        layout: &Layout,
        chart: &Chart,
        shape: &Shape,
        rim_mm: f32,
        hollow: f32,
    ) -> Result<Option<Misfit>, Cancelled> {
        let up = self.skin.normal_at(&chart.centre);
        let points = outline_and_inside(shape);
        let mut ends = Ends::of(&points);
        let mut worst: Option<(f32, Misfit)> = None;
        let note = |worst: &mut Option<(f32, Misfit)>, severity: f32, reason: Reason, place: Point3<f32>| {
            if worst.is_none_or(|(s, _)| severity > s) {
                *worst = Some((severity, Misfit { reason, place }));
            }
        };
        for (uv, on_outline) in points {
            self.job.check()?;
            if self.only_asked && worst.is_some() {
                break;
            }
            let Some(hit) = chart.skin_point(self.skin, uv) else {
                note(&mut worst, 1e6, Reason::SkinEnds, nearest_mapped(self.skin, chart, uv));
                // Nothing is worse.
                break;
            };
            let edge = self.edge_mm(&hit) * hollow;
            if on_outline && edge < rim_mm - MEASURED_MM {
                ends.too_near(uv[0]);
                let reason = Reason::Rim { has_mm: edge, needs_mm: rim_mm, both_ends: false };
                note(&mut worst, 1e3 + rim_mm - edge, reason, hit.point);
            }
            if let Some((distance, other)) = layout.nearest_placed(self.skin, &hit)
                && distance * hollow < MIN_LIGAMENT_MM - MEASURED_MM
            {
                let has_mm = distance * hollow;
                note(&mut worst, 500.0 - has_mm, Reason::Meets { other, has_mm }, hit.point);
            }
            let turn_deg = up.angle(&self.skin.normal_at(&hit)).to_degrees();
            if turn_deg > GREATEST_TURN_DEG {
                note(&mut worst, turn_deg, Reason::Bent { turn_deg }, hit.point);
            }
        }
        let mut worst = worst.map(|(_, misfit)| misfit);
        if let Some(Misfit { reason: Reason::Rim { both_ends, .. }, .. }) = &mut worst {
            *both_ends = ends.only_both();
        }
        Ok(worst)
    }

    /// Turns a failed check of values into an error at the skin point nearest to `at_mm`.
    pub fn allowed(&self, checked: Result<(), SettingOutOfRange>, at_mm: &Point3<f32>) -> Result<(), ShellError> {
        checked.map_err(|wrong| wrong.at(self.nearest(at_mm).map_or_else(Point3::origin, |hit| hit.point)))
    }

    /// The skin point nearest to `at_mm`; refuses coordinates that are not finite or far off the limb.
    pub fn require_place(&self, at_mm: &Point3<f32>, setting: &str) -> Result<Hit, ShellError> {
        let far = |hit: &Hit| hit.distance2 > FAR_MM * FAR_MM;
        match self.nearest(at_mm) {
            Some(hit) if !far(&hit) => Ok(hit),
            hit => Err(ShellError::CannotBuild {
                setting: setting.to_owned(),
                place: hit.map_or_else(Point3::origin, |h| h.point),
                what: hit.map_or("its coordinates are not valid numbers".to_owned(), |h| {
                    format!("it lies {:.0} mm off the skin", h.distance2.sqrt())
                }),
                cure: format!(
                    "Give a point on the skin, or at most {FAR_MM:.0} mm off it, in mm from the middle of the limb, z along \
                     it."
                ),
            }),
        }
    }

    /// The skin point nearest to `at_mm`, where its coordinates are numbers.
    pub fn nearest(&self, at_mm: &Point3<f32>) -> Option<Hit> {
        let finite = at_mm.iter().all(|x| x.is_finite());
        if finite { self.skin.nearest(at_mm, None) } else { None }
    }
}

/// Which parts of an outline come too near to the trim line, along the length of its shape.
struct Ends {
    /// Where the middle part begins and ends.
    middle: [f32; 2],
    /// Low end, middle, high end.
    near: [bool; 3],
}

impl Ends {
    fn of(points: &[([f32; 2], bool)]) -> Self {
        let outline = points.iter().filter(|(_, on_outline)| *on_outline).map(|(uv, _)| uv[0]);
        let (low, high) = outline.fold((f32::INFINITY, f32::NEG_INFINITY), |(lo, hi), u| (lo.min(u), hi.max(u)));
        let end = 0.25 * (high - low);
        Self { middle: [low + end, high - end], near: [false; 3] }
    }

    fn too_near(&mut self, u: f32) {
        self.near[usize::from(u > self.middle[0]) + usize::from(u > self.middle[1])] = true;
    }

    fn only_both(&self) -> bool {
        self.near == [true, false, true]
    }
}

fn outline_and_inside(shape: &Shape) -> Vec<([f32; 2], bool)> {
    let reach = shape.reach();
    let spacing = (reach * 0.05).clamp(0.5, 2.0);
    let mut points: Vec<_> = Vec::new();
    // A drawing gives a point every grid step; this spacing is enough.
    for p in shape.outline(spacing) {
        let near = |q: &([f32; 2], bool)| (q.0[0] - p[0]).hypot(q.0[1] - p[1]) < 0.5 * spacing;
        if !points.iter().rev().take(200).any(near) {
            points.push((p, true));
        }
    }
    let steps = (reach / (2.0 * spacing)).ceil() as i32;
    for j in -steps..=steps {
        for i in -steps..=steps {
            let p = [i as f32 * 2.0 * spacing, j as f32 * 2.0 * spacing];
            if shape.signed_distance(p) < 0.0 {
                points.push((p, false));
            }
        }
    }
    points
}

/// Where the map comes nearest to coordinates that it does not reach.
fn nearest_mapped(skin: &Surface, chart: &Chart, uv: [f32; 2]) -> Point3<f32> {
    let away = |c: [f32; 2]| (c[0] - uv[0]).hypot(c[1] - uv[1]);
    chart
        .vertices
        .iter()
        .min_by(|a, b| away(a.1).total_cmp(&away(b.1)))
        .map_or(chart.centre.point, |(v, _)| skin.mesh().points[*v as usize])
}
