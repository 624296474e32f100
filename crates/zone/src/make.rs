//! From settings to a zone.

use mesh::geodesic::{SurfaceLine, distance_to_lines};
use mesh::{Job, Surface};
use nalgebra::Point3;

use crate::components::{components, drop_specks};
use crate::fair_edges::{OffLimits, Wanted, fair_edges};
use crate::landmarks::{NEAR_END_MM, near_open_end};
use crate::region_field::RegionField;
use crate::source::join;
use crate::{Bump, Region, RegionKind, Source, Zone, ZoneError, ZoneSettings};

/// Distances to the edge are exact this far from it.
pub const REACH_MM: f32 = 40.0;
/// The edge stays this far from an open end of the limb, so that the rim of the shell has skin under it.
const END_MM: f32 = 3.0;
/// An open end of the skin with a shorter border is a hole in the scan, not a cut end.
const HOLE_MM: f64 = 60.0;
/// A shell narrower than this is all rim.
const LEAST_WIDTH_MM: f32 = 8.0;

/// Makes the zone that `settings` describe on `skin`.
///
/// Cancellation is checked every few thousand vertices of each measurement and flood.
///
/// # Errors
/// [`ZoneError`] says which setting, line or place is wrong.
pub fn make(skin: &Surface, settings: &ZoneSettings, job: &Job) -> Result<Zone, ZoneError> {
    settings.check()?;
    if skin.mesh().triangles.is_empty() {
        return Err(ZoneError::NoSkin);
    }
    let mut zone = Zone::default();
    job.step("drawing the zone", 0.0)?;
    let mut shape = join(skin, &settings.sources, "zone", &mut zone.notices, job)?;
    shape.grow(skin, settings.grow_mm, job)?;
    if shape.is_empty() {
        let why = format!("shrinking by {:.1} mm leaves nothing", -settings.grow_mm);
        return Err(ZoneError::Empty { what: "zone".to_owned(), why });
    }
    job.step("smoothing its edge", 0.2)?;
    if settings.smooth_mm > 0.0 {
        shape.close(skin, settings.smooth_mm, job)?;
    }
    let told = zone.notices.len();
    let ends = stay_off_ends(skin, &mut shape, &mut zone.notices, job)?;
    let runs_to_end = zone.notices.len() > told;
    let mut off_limits = OffLimits { clear: None, ends };

    for (i, extra) in settings.regions.iter().enumerate() {
        job.step("drawing its regions", 0.4 + 0.3 * i as f32 / settings.regions.len() as f32)?;
        match extra.kind {
            RegionKind::Relief { depth_mm, falloff_mm } => {
                let region = region(skin, &extra.sources, &format!("relief {}", i + 1), &mut zone.notices, job)?;
                zone.reliefs.push(Bump { region, height_mm: depth_mm, falloff_mm });
            }
            RegionKind::Reinforcement { extra_mm, falloff_mm } => {
                let region = region(skin, &extra.sources, &format!("reinforcement {}", i + 1), &mut zone.notices, job)?;
                zone.reinforcements.push(Bump { region, height_mm: extra_mm, falloff_mm });
            }
            RegionKind::KeepClear { margin_mm } => {
                let name = format!("keep-clear region {}", i + 1);
                let mut clear = join(skin, &extra.sources, &name, &mut zone.notices, job)?;
                clear.grow(skin, margin_mm, job)?;
                let outside = off_limits.clear.get_or_insert_with(|| vec![f32::INFINITY; clear.field.len()]);
                outside.iter_mut().zip(&clear.field).for_each(|(d, inside)| *d = d.min(-inside));
                if !shape.keep(clear.field.iter().map(|d| -d)) {
                    zone.notices.push(format!("{name} lies outside the zone and changes nothing"));
                }
            }
        }
    }
    if settings.smooth_mm > 0.0 {
        // Last, because it only takes away: nothing comes back over a keep-clear region or an open end.
        shape.open(skin, settings.smooth_mm, job)?;
    }
    job.step("measuring the zone", 0.8)?;
    drop_specks(skin, &mut shape, &mut zone.notices, job)?;
    if shape.is_empty() {
        let why = "keep-clear regions, the open ends of the limb or smoothing leave nothing of it".to_owned();
        return Err(ZoneError::Empty { what: "zone".to_owned(), why });
    }
    let found = components(skin, &shape.field, true, job)?;
    if found.len() > 1 {
        return Err(ZoneError::Pieces { pieces: found.into_iter().map(|p| (p.area_cm2, p.middle)).collect() });
    }
    if settings.tolerance_mm > 0.0 || !settings.pulls.is_empty() {
        job.step("making its edge fair", 0.85)?;
        let wanted = Wanted { tolerance_mm: settings.tolerance_mm, pulls: &settings.pulls };
        zone.trim = fair_edges(skin, &mut shape, &off_limits, &wanted, &mut zone.notices, job)?;
    }
    zone.covered = finish(skin, shape, job)?;
    if !runs_to_end && let Some(near) = near_open_end(skin, &zone.covered, NEAR_END_MM, job)? {
        zone.notices.push(format!(
            "the zone comes within {:.0} mm of the end of the scan, where the skin is least sure",
            near.distance_mm.ceil()
        ));
    }
    let widest = zone.covered.distance_mm.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
    if let Some((v, half)) = widest.filter(|(_, half)| 2.0 * **half < LEAST_WIDTH_MM) {
        let at = skin.mesh().points[v];
        return Err(ZoneError::TooThin { width_mm: 2.0 * half, at, least_mm: LEAST_WIDTH_MM });
    }
    job.step("zone done", 1.0)?;
    Ok(zone)
}

/// A region from its sources alone.
fn region(
    skin: &Surface,
    sources: &[Source],
    what: &str,
    notices: &mut Vec<String>,
    job: &Job,
) -> Result<Region, ZoneError> {
    let shape = join(skin, sources, what, notices, job)?;
    finish(skin, shape, job)
}

fn finish(skin: &Surface, mut shape: RegionField, job: &Job) -> Result<Region, ZoneError> {
    shape.measure(skin, REACH_MM, job)?;
    let edges = shape.lines.unwrap_or_default().into_iter().map(corners).filter(|e| e.len() > 2).collect();
    Ok(Region { distance_mm: shape.field, edges })
}

/// The corners of a closed line without the points that fall together where it runs through a vertex.
fn corners(line: SurfaceLine) -> Vec<Point3<f32>> {
    let mut points = line.points;
    points.dedup_by(|a, b| (*a - *b).norm() < 1e-4);
    while points.len() > 1 && (points[0] - points[points.len() - 1]).norm() < 1e-4 {
        points.pop();
    }
    points
}

/// Where the scan ends, as closed lines.
pub(crate) fn open_ends(skin: &Surface) -> Vec<SurfaceLine> {
    SurfaceLine::borders(skin).into_iter().filter(|border| border.length_mm() >= HOLE_MM).collect()
}

/// Keeps the edge off the open ends of the limb; returns how far each vertex lies inside what is kept, mm.
fn stay_off_ends(
    skin: &Surface,
    shape: &mut RegionField,
    notices: &mut Vec<String>,
    job: &Job,
) -> Result<Vec<f32>, ZoneError> {
    let mut from_end = distance_to_lines(skin, &open_ends(skin), END_MM + 4.0, job)?;
    from_end.iter_mut().for_each(|d| *d -= END_MM);
    if shape.keep(from_end.iter().copied()) {
        notices.push(format!(
            "the zone runs to an open end of the limb; its edge was set {END_MM:.0} mm inside so that the rim has skin under it"
        ));
    }
    Ok(from_end)
}
