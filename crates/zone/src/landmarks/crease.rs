//! Lines across which a joint folds, and how near the covered skin comes to one or to the end of the scan.

use mesh::geodesic::{LineError, SurfaceLine, contour, distance_to_lines};
use mesh::{Cancelled, Job, Surface};
use nalgebra::Point3;

use super::depth_mm;
use crate::limits::{DAB_RADIUS, MARGIN};
use crate::make::open_ends;
use crate::source::on_skin;
use crate::{Dab, ExtraRegion, Region, RegionKind, Source, ZoneError};

/// Covered skin this near to the end of the scan is worth a look: what lies beyond is not known.
pub const NEAR_END_MM: f32 = 10.0;
/// Greatest distance that a guard is kept from a crease.
const MOST_MM: f32 = 50.0;
/// Least radius of the dabs along a line: vertices are at most 1.5 mm apart, and each dab needs one.
const LEAST_DAB_MM: f32 = 1.5;

/// A line on the skin across which a joint folds, as that of the elbow or the wrist.
#[derive(Debug, Clone, PartialEq)]
pub struct Crease {
    /// How it runs, in one line or several.
    pub lines: Vec<SurfaceLine>,
}

/// Where the covered skin comes too near to something.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TooNear {
    /// The nearest covered skin; where it is crossed, the point of the line that lies deepest in it.
    pub at_mm: Point3<f32>,
    /// How far that is over the skin, mm; 0 where it is crossed.
    pub distance_mm: f32,
}

impl TooNear {
    /// Whether the covered skin crosses the line.
    #[must_use]
    pub fn crosses(&self) -> bool {
        self.distance_mm <= 0.0
    }
}

impl Crease {
    /// The shortest way over the skin from each point to the next: two clicks, or the points of a stroke.
    ///
    /// # Errors
    /// A point is far from the skin, two are not connected over it, there are fewer than two, or the work was stopped.
    pub fn across(skin: &Surface, points_mm: &[Point3<f32>], job: &Job) -> Result<Self, ZoneError> {
        for p in points_mm {
            on_skin(skin, p, "A point of the crease")?;
        }
        let line = SurfaceLine::lay(skin, points_mm, false, job).map_err(|why| match why {
            LineError::Cancelled(stopped) => ZoneError::Cancelled(stopped),
            why => ZoneError::Line { what: "crease".to_owned(), why },
        })?;
        Ok(Self { lines: vec![line] })
    }

    /// Round the limb, where the plane through two points that stands square on the skin between them cuts it.
    ///
    /// # Errors
    /// A point is far from the skin, both are in one place, or the work was stopped.
    pub fn round(skin: &Surface, ends_mm: [Point3<f32>; 2], job: &Job) -> Result<Self, ZoneError> {
        /// A line of the cut belongs to the crease if it passes an end this near.
        const PASSES_MM: f32 = 2.0;
        let [a, b] = [0, 1].map(|k| on_skin(skin, &ends_mm[k], "An end of the crease"));
        let ends = [a?, b?];
        let up = skin.normal_at(&ends[0]) + skin.normal_at(&ends[1]);
        let square = (ends[1].point - ends[0].point).cross(&up).try_normalize(1e-3);
        let square = square.ok_or_else(|| ZoneError::Line { what: "crease".to_owned(), why: LineError::Empty })?;
        job.check()?;
        let values: Vec<f32> = skin.mesh().points.iter().map(|p| (p - ends[0].point).dot(&square)).collect();
        job.check()?;
        let passes = |line: &SurfaceLine| {
            line.segments().any(|(a, b, _)| ends.iter().any(|end| from_segment(&end.point, &a, &b) < PASSES_MM))
        };
        let lines = contour(skin, &values, 0.0).iter().flat_map(|c| c.inner_parts()).filter(passes).collect();
        Ok(Self { lines })
    }

    /// The skin within `distance_mm` of it as a keep-clear region, to be put among the regions of a zone. It is painted
    /// in dabs along the line, so that it is saved, drawn and painted over as any other.
    ///
    /// # Errors
    /// [`ZoneError::OutOfRange`] where the distance is not from 0.5 to 50 mm.
    pub fn region(&self, distance_mm: f32) -> Result<ExtraRegion, ZoneError> {
        if !(DAB_RADIUS.least..=MOST_MM).contains(&distance_mm) {
            let (low, high) = (DAB_RADIUS.least, MOST_MM);
            let field = "distance from a crease".to_owned();
            return Err(ZoneError::OutOfRange { field, value: distance_mm, low, high });
        }
        // Dabs of half the distance, half a radius apart, and the other half as a margin: few dabs, and an edge that
        // dips by less than a hundredth of the distance between them.
        let radius_mm = (0.5 * distance_mm).max(LEAST_DAB_MM.min(distance_mm)).max(distance_mm - MARGIN.most);
        let dab = |at_mm: Point3<f32>| Dab { at_mm, radius_mm, remove: false };
        let dabs = self.lines.iter().flat_map(|line| spaced(line, 0.5 * radius_mm)).map(dab).collect();
        let kind = RegionKind::KeepClear { margin_mm: distance_mm - radius_mm };
        Ok(ExtraRegion { kind, sources: vec![Source::Strokes { dabs }] })
    }

    /// Where `covered` crosses the crease or comes nearer than `distance_mm`; `None` where it does neither.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub fn nearness(
        &self,
        skin: &Surface,
        covered: &Region,
        distance_mm: f32,
        job: &Job,
    ) -> Result<Option<TooNear>, Cancelled> {
        let depth = |p: &Point3<f32>| skin.nearest(p, None).map(|hit| depth_mm(skin, covered, &hit));
        let along = self.lines.iter().flat_map(|line| line.points.iter());
        let deepest = along.filter_map(|p| Some((*p, depth(p)?))).max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((at_mm, _)) = deepest.filter(|(_, depth)| *depth > 0.0) {
            return Ok(Some(TooNear { at_mm, distance_mm: 0.0 }));
        }
        nearest_covered(skin, covered, &self.lines, distance_mm, job)
    }
}

/// The keep-clear region along a crease through `points_mm`: all skin within `distance_mm` of the shortest way from each
/// point to the next ([`Crease::across`]).
///
/// # Errors
/// As [`Crease::across`] and [`Crease::region`].
pub fn crease_region(
    skin: &Surface,
    points_mm: &[Point3<f32>],
    distance_mm: f32,
    job: &Job,
) -> Result<ExtraRegion, ZoneError> {
    Crease::across(skin, points_mm, job)?.region(distance_mm)
}

/// Where `covered` comes nearer than `distance_mm`, usually [`NEAR_END_MM`], to an open end of the scan.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub fn near_open_end(
    skin: &Surface,
    covered: &Region,
    distance_mm: f32,
    job: &Job,
) -> Result<Option<TooNear>, Cancelled> {
    nearest_covered(skin, covered, &open_ends(skin), distance_mm, job)
}

/// The covered point nearest to some lines that it does not cross, if it is nearer than `within_mm`.
fn nearest_covered(
    skin: &Surface,
    covered: &Region,
    lines: &[SurfaceLine],
    within_mm: f32,
    job: &Job,
) -> Result<Option<TooNear>, Cancelled> {
    // 4 mm more, so that all corners of a triangle in which it is reached are measured.
    let from = distance_to_lines(skin, lines, within_mm + 4.0, job)?;
    let measured = skin.mesh().points.iter().zip(&from).zip(&covered.distance_mm);
    let inside = measured.filter(|(_, depth)| **depth >= 0.0).map(|((p, from), _)| (*p, *from));
    let edge = covered.edges.iter().flatten().filter_map(|p| {
        let hit = skin.nearest(p, None)?;
        Some((*p, skin.interpolate(&from, &hit)))
    });
    let nearest = inside.chain(edge).min_by(|a, b| a.1.total_cmp(&b.1)).filter(|(_, distance)| *distance < within_mm);
    Ok(nearest.map(|(at_mm, distance_mm)| TooNear { at_mm, distance_mm }))
}

/// Distance of a point from a straight piece of line.
fn from_segment(p: &Point3<f32>, a: &Point3<f32>, b: &Point3<f32>) -> f32 {
    let (along, away) = (b - a, p - a);
    let share = away.dot(&along) / along.norm_squared().max(f32::MIN_POSITIVE);
    (away - along * share.clamp(0.0, 1.0)).norm()
}

/// Points on a line no farther apart than `step_mm`, its ends among them.
fn spaced(line: &SurfaceLine, step_mm: f32) -> Vec<Point3<f32>> {
    let length = line.length_mm() as f32;
    let parts = (length / step_mm).ceil().max(1.0);
    let step = length / parts;
    let count = if line.closed { parts as usize } else { parts as usize + 1 };
    let (mut found, mut run) = (Vec::with_capacity(count), 0.0);
    for (a, b, _) in line.segments() {
        let piece = (b - a).norm();
        while found.len() < count && found.len() as f32 * step <= run + piece {
            let share = if piece > 0.0 { (found.len() as f32 * step - run) / piece } else { 0.0 };
            found.push(a + (b - a) * share);
        }
        run += piece;
    }
    // Rounding may leave out the last.
    found.extend(line.points.last().filter(|_| found.len() < count));
    found
}
