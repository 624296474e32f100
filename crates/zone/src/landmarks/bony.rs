//! Bony points.

use std::f32::consts::PI;

use mesh::geodesic::distance_to_lines;
use mesh::{Cancelled, Hit, Job, Quadrics, Surface};
use nalgebra::{Point3, Vector3};

use super::depth_mm;
use super::sites::{FINE_MM, Sites};
use super::tops::bulges;
use crate::make::open_ends;
use crate::{Dab, ExtraRegion, Region, RegionKind, Source, Zone};

/// Radius of a bulge.
const RADIUS_MM: [f32; 2] = [8.0, 25.0];
/// Least height over its foot.
const LEAST_HEIGHT_MM: f32 = 0.9;
/// Least height over radius.
const LEAST_SHARPNESS: f32 = 0.05;
/// Nearer to the end of the scan a bulge is not whole.
const END_MM: f32 = 12.0;
/// Bulges whose middles are nearer are one.
const APART_MM: f32 = 15.0;
/// Skin that faces within about 53 degrees (a cosine) of how the bulge does: beyond, the limb turns away.
const FACES: f32 = 0.6;
/// Of the skin this far off so much must still face as the bulge does: that round a finger tip does not.
const AROUND_MM: [f32; 2] = [18.0, 26.0];
const AROUND_SHARE: f32 = 0.36;
/// Where the lesser curvature of a Gaussian bulge is half of that at its top, in standard deviations: the root of
/// (1 − u²) exp(−u²/2) = 1/2.
const HALF: f32 = 0.626;
/// A relief reaches this far beyond the foot of the bulge.
const MARGIN_MM: f32 = 2.0;

/// A smooth bulge that stands out of the limb's form.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BonyPoint {
    /// Its middle, on the skin.
    pub at_mm: Point3<f32>,
    /// From its middle to its foot, mm: √3 times the distance to where it turns from bulging to hollow, as on a bulge of
    /// height (1 − (s/r)²)², which ends at r; to about 30 %.
    pub radius_mm: f32,
    /// How far its middle stands over a straight edge laid across its foot, the way it stands least, less what the limb
    /// itself curves that way, mm; to about 30 %.
    pub height_mm: f32,
    /// Height over radius: how steeply it stands out.
    pub sharpness: f32,
}

impl BonyPoint {
    /// Whether it reaches into a region of the skin that it was found on.
    #[must_use]
    pub fn reaches(&self, skin: &Surface, region: &Region) -> bool {
        skin.nearest(&self.at_mm, None).is_some_and(|hit| depth_mm(skin, region, &hit) > -self.radius_mm)
    }

    /// Whether one of the reliefs among the regions of a zone lies over its middle.
    #[must_use]
    pub fn is_relieved(&self, regions: &[ExtraRegion]) -> bool {
        let over = |dab: &Dab| (dab.at_mm - self.at_mm).norm() < dab.radius_mm && !dab.remove;
        let dabbed = |source: &Source| matches!(source, Source::Strokes { dabs } if dabs.iter().any(over));
        let relieves = |region: &&ExtraRegion| matches!(region.kind, RegionKind::Relief { .. });
        regions.iter().filter(relieves).any(|region| region.sources.iter().any(dabbed))
    }

    /// A relief over it, to be put among the regions of a zone: all of the bulge and 2 mm beyond, of the kind that is
    /// given, usually [`RegionKind::RELIEF`].
    #[must_use]
    pub fn relief(&self, kind: RegionKind) -> ExtraRegion {
        let dab = Dab { at_mm: self.at_mm, radius_mm: self.radius_mm + MARGIN_MM, remove: false };
        ExtraRegion { kind, sources: vec![Source::Strokes { dabs: vec![dab] }] }
    }
}

/// The bony points of a limb, or those of them that reach into `zone`; the sharpest first.
///
/// # Errors
/// [`Cancelled`] when `job` is; it is checked every few thousand points.
pub fn bony_points(skin: &Surface, zone: Option<&Zone>, job: &Job) -> Result<Vec<BonyPoint>, Cancelled> {
    job.step("looking for bony points", 0.0)?;
    let sites = Sites::new(skin, job)?;
    job.step("measuring bony points", 0.8)?;
    let from_end = distance_to_lines(skin, &open_ends(skin), END_MM + 4.0, job)?;
    let mut found: Vec<BonyPoint> = Vec::new();
    for tops in bulges(skin, &sites, job)? {
        job.check()?;
        let Some((point, hit)) = measure(skin, &sites, &tops) else { continue };
        let reaches = |zone: &Zone| point.reaches(skin, &zone.covered);
        if skin.interpolate(&from_end, &hit) >= END_MM && zone.is_none_or(reaches) {
            found.push(point);
        }
    }
    found.sort_by(|a, b| b.sharpness.total_cmp(&a.sharpness));
    let mut apart: Vec<BonyPoint> = Vec::new();
    for point in found {
        if apart.iter().all(|kept| (kept.at_mm - point.at_mm).norm() >= APART_MM) {
            apart.push(point);
        }
    }
    job.step("bony points found", 1.0)?;
    Ok(apart)
}

/// The bulge with these tops, if it is of the size of a bony point.
fn measure(skin: &Surface, sites: &Sites, tops: &[usize]) -> Option<(BonyPoint, Hit)> {
    let top = &sites.all[*tops.first()?];
    let half = 0.5 * top.excess;
    // Round a limb that curves itself the lesser curvature stays high for longer than the bulge does; both together do
    // not.
    let bulge = sites.connected(tops, |site| {
        site.excess >= half && site.both >= 0.5 * top.both && site.normal.dot(&top.normal) > FACES
    });
    let (mut sum, mut weight, mut area, mut up) = (Vector3::zeros(), 0.0, 0.0, Vector3::zeros());
    for site in bulge.iter().map(|i| &sites.all[*i]) {
        let share = site.area_mm2 * (site.excess - half).max(0.0);
        sum += site.at.coords * share;
        weight += share;
        area += site.area_mm2;
        up += site.normal * site.area_mm2;
    }
    let middle = match tops {
        [_] => sum / weight,
        // Between its tops, as the middle of an even bulge may be flat.
        _ => {
            let all = tops.iter().map(|i| &sites.all[*i]);
            all.clone().map(|t| t.at.coords * t.excess).sum::<Vector3<f32>>() / all.map(|t| t.excess).sum::<f32>()
        }
    };
    let deviation2 = area / (PI * HALF * HALF) - Quadrics::SMOOTHING * FINE_MM * FINE_MM;
    let radius_mm = (3.0 * deviation2.max(0.0)).sqrt();
    if !(RADIUS_MM[0]..=RADIUS_MM[1]).contains(&radius_mm) {
        return None;
    }
    let up = up.try_normalize(1e-6)?;
    let hit = skin.nearest(&Point3::from(middle), None)?;
    if !goes_on(sites, &hit.point, &up) {
        return None;
    }
    let height_mm = height(skin, sites, &hit.point, &up, radius_mm)?;
    let point = BonyPoint { at_mm: hit.point, radius_mm, height_mm, sharpness: height_mm / radius_mm };
    (height_mm >= LEAST_HEIGHT_MM && point.sharpness >= LEAST_SHARPNESS).then_some((point, hit))
}

/// Whether enough of the skin round a bulge faces as it does.
fn goes_on(sites: &Sites, at: &Point3<f32>, up: &Vector3<f32>) -> bool {
    let (mut facing, mut all) = (0.0, 0.0);
    for site in &sites.all {
        if (AROUND_MM[0]..AROUND_MM[1]).contains(&(site.at - at).norm()) {
            all += site.area_mm2;
            facing += if site.normal.dot(up) > FACES { site.area_mm2 } else { 0.0 };
        }
    }
    facing >= AROUND_SHARE * all && all > 0.0
}

/// See [`BonyPoint::height_mm`]; `None` where there is no skin on both sides, whichever way the straight edge is laid.
fn height(skin: &Surface, sites: &Sites, at: &Point3<f32>, up: &Vector3<f32>, radius_mm: f32) -> Option<f32> {
    /// Ways in which the straight edge is laid.
    const WAYS: u8 = 8;
    let side = if up.x.abs() < 0.8 { Vector3::x() } else { Vector3::y() };
    let u = up.cross(&side).try_normalize(1e-6)?;
    let v = up.cross(&u);
    let top = sites.fair(at, up);
    let below = |way: Vector3<f32>, away_mm: f32| {
        let from = top + way * away_mm + up * (0.5 * radius_mm);
        let hit = skin.ray(&from, &-up, 3.0 * radius_mm)?;
        Some((top - sites.fair(&hit.point, &skin.normal_at(&hit))).dot(up))
    };
    // How far a straight edge laid across the skin `away_mm` to both sides lies below the top.
    let edge = |way: Vector3<f32>, away_mm: f32| Some(0.5 * (below(way, away_mm)? + below(-way, away_mm)?));
    let ways = (0..WAYS).map(|k| {
        let (sin, cos) = (PI * f32::from(k) / f32::from(WAYS)).sin_cos();
        u * cos + v * sin
    });
    let (way, near) = ways.filter_map(|way| Some((way, edge(way, radius_mm)?))).min_by(|a, b| a.1.total_cmp(&b.1))?;
    // The limb curves alike on and beside the bulge: below its foot by c r², below twice as far by 4 c r².
    let curved = edge(way, 2.0 * radius_mm).map_or(0.0, |far| (far - near) / 3.0);
    Some(near - curved.max(0.0))
}
