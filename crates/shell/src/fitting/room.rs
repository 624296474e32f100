//! Whether a thing has room: inside the zone, clear of the rim, of other things, and on skin that is flat enough.

use mesh::{Hit, Surface};
use nalgebra::Point3;
use zone::Zone;

use crate::limits::MIN_LIGAMENT_MM;
use crate::{Chart, Layout, Shape, ShellError, Source};

/// Least wall between a strap slot and the trim line, mm: it carries the pull of the strap.
pub const STRAP_WALL_MM: f32 = 4.0;
/// Lengths on the skin come out this exactly at best, mm: what has its least wall by its numbers has it on the skin.
const MEASURED_MM: f32 = 0.01;
/// Greatest turn of the skin between the middle and the outline of a thing, degrees.
const GREATEST_TURN_DEG: f32 = 75.0;

/// Why there is no room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Trouble {
    /// The skin ends, or its map does.
    SkinEnds,
    /// Closer to the rim than needed; negative outside the zone.
    Rim { has_mm: f32, needs_mm: f32 },
    /// Closer to another thing than needed; negative where they overlap.
    Meets { other: Source, has_mm: f32 },
    /// The skin turns away under it.
    Bent { turn_deg: f32 },
}

/// Trouble and the skin point where it is worst.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct NoRoom {
    pub trouble: Trouble,
    pub place: Point3<f32>,
}

impl NoRoom {
    /// What is wrong, as a clause about `thing`.
    pub fn what(&self, thing: &str) -> String {
        match self.trouble {
            Trouble::SkinEnds => format!("{thing} reaches beyond the scanned skin"),
            Trouble::Rim { has_mm, needs_mm } if has_mm <= 0.0 => {
                format!(
                    "{thing} reaches {:.1} mm beyond the zone's edge and needs {needs_mm:.1} mm of wall inside it",
                    -has_mm
                )
            }
            Trouble::Rim { has_mm, needs_mm } => {
                format!("{thing} leaves {has_mm:.1} mm of wall to the zone's edge and needs {needs_mm:.1} mm")
            }
            Trouble::Meets { other, has_mm } if has_mm <= 0.0 => format!("{thing} overlaps {}", named(other)),
            Trouble::Meets { other, has_mm } => {
                format!("{thing} leaves {has_mm:.1} mm of wall to {} and needs {MIN_LIGAMENT_MM:.1} mm", named(other))
            }
            Trouble::Bent { turn_deg } => {
                format!("the limb turns by {turn_deg:.0} degrees under {thing}, more than {GREATEST_TURN_DEG:.0}")
            }
        }
    }

    pub fn error(&self, setting: String, thing: &str, cure: &str) -> ShellError {
        ShellError::CannotBuild { setting, place: self.place, what: self.what(thing), cure: cure.to_owned() }
    }
}

fn named(source: Source) -> String {
    match source {
        Source::Vent => "a vent".to_owned(),
        Source::Fitting(i) => format!("shell.fittings[{i}]"),
        Source::Mark(i) => format!("shell.marks[{i}]"),
    }
}

/// Tests every point of the outline, and the inside so that nothing hides there.
///
/// `hollow` is the least scale between a length in the wall and the same length on the skin, at most 1.
pub(super) fn check(
    skin: &Surface,
    zone: &Zone,
    layout: &Layout,
    chart: &Chart,
    shape: &Shape,
    rim_mm: f32,
    hollow: f32,
) -> Result<(), NoRoom> {
    let up = skin.normal_at(&chart.centre);
    let mut worst: Option<(f32, NoRoom)> = None;
    let mut note = |severity: f32, trouble: Trouble, place: Point3<f32>| {
        if worst.is_none_or(|(s, _)| severity > s) {
            worst = Some((severity, NoRoom { trouble, place }));
        }
    };
    for (uv, on_outline) in outline_and_inside(shape) {
        let Some(hit) = chart.skin_point(skin, uv) else {
            note(1e6, Trouble::SkinEnds, nearest_mapped(skin, chart, uv));
            continue;
        };
        let edge = skin.interpolate(&zone.covered.distance_mm, &hit) * hollow;
        if on_outline && edge < rim_mm - MEASURED_MM {
            note(1e3 + rim_mm - edge, Trouble::Rim { has_mm: edge, needs_mm: rim_mm }, hit.point);
        }
        if let Some((distance, other)) = nearest_placed(skin, layout, &hit)
            && distance * hollow < MIN_LIGAMENT_MM - MEASURED_MM
        {
            let has_mm = distance * hollow;
            note(500.0 - has_mm, Trouble::Meets { other, has_mm }, hit.point);
        }
        let turn_deg = up.angle(&skin.normal_at(&hit)).to_degrees();
        if turn_deg > GREATEST_TURN_DEG {
            note(turn_deg, Trouble::Bent { turn_deg }, hit.point);
        }
    }
    worst.map_or(Ok(()), |(_, trouble)| Err(trouble))
}

/// The nearest thing laid out so far, with its distance; see [`Layout::distance_to_placed`].
fn nearest_placed(skin: &Surface, layout: &Layout, hit: &Hit) -> Option<(f32, Source)> {
    let cuts = layout.cuts.iter().map(|c| (&c.chart, &c.shape, c.source));
    let embosses = layout.embosses.iter().map(|e| (&e.chart, &e.shape, e.source));
    cuts.chain(embosses)
        .filter(|(chart, ..)| (chart.centre.point - hit.point).norm() <= chart.radius_mm)
        .filter_map(|(chart, shape, source)| Some((shape.signed_distance(chart.uv_at(skin, hit)?), source)))
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

fn outline_and_inside(shape: &Shape) -> Vec<([f32; 2], bool)> {
    let reach = shape.reach();
    let spacing = (reach * 0.05).clamp(0.5, 2.0);
    let mut points: Vec<_> = Vec::new();
    // A drawing gives a point every grid step; the same spacing is enough.
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

/// Refuses a zone that was made for another skin, before its distances are looked up.
pub(super) fn require_matching(skin: &Surface, zone: &Zone) -> Result<(), ShellError> {
    if zone.covered.distance_mm.len() == skin.mesh().points.len() && !skin.mesh().triangles.is_empty() {
        return Ok(());
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

/// The skin point nearest to `at_mm`, for a message about a thing there.
pub(super) fn place_near(skin: &Surface, at_mm: &Point3<f32>) -> Point3<f32> {
    let finite = at_mm.iter().all(|x| x.is_finite());
    let hit = if finite { skin.nearest(at_mm, None) } else { None };
    hit.map_or_else(Point3::origin, |hit| hit.point)
}

/// The skin point nearest to `at_mm`, refusing what is no place or far off the limb.
pub(super) fn require_place(skin: &Surface, at_mm: &Point3<f32>, setting: &str) -> Result<Hit, ShellError> {
    let finite = at_mm.iter().all(|x| x.is_finite());
    let hit = if finite { skin.nearest(at_mm, None) } else { None };
    let far = |hit: &Hit| hit.distance2 > FAR_MM * FAR_MM;
    match hit {
        Some(hit) if !far(&hit) => Ok(hit),
        hit => Err(ShellError::CannotBuild {
            setting: setting.to_owned(),
            place: hit.map_or_else(Point3::origin, |h| h.point),
            what: hit
                .map_or("it is no place".to_owned(), |h| format!("it lies {:.0} mm off the skin", h.distance2.sqrt())),
            cure: format!("Give a point on the skin, or at most {FAR_MM:.0} mm off it, in limb axes."),
        }),
    }
}

/// A point further off the skin than this is a slip of the pen.
const FAR_MM: f32 = 30.0;
