//! Suggested places for straps and a number.

use mesh::{Cancelled, Hit, Job, Surface, TriangleFeature};
use nalgebra::{Point3, Vector3};
use zone::Zone;

use super::glyphs;
use super::outline::{CHART_MARGIN_MM, place_checked};
use super::placement::{STRAP_WALL_MM, Workpiece};
use super::way_out::succeeded as fits;
use crate::design_check::check_fitting;
use crate::limits::{self, USUAL_STRAP_OPENING_MM as OPENING_MM, rim_wall_mm};
use crate::{Design, Fitting, FittingKind, Layout, Mark, Shape};

/// A suggestion leaves this much more room than it needs, so that it still fits after small changes of the edge, mm.
const SPARE_MM: f32 = 1.0;
/// How far up or down from its even height a pair may move to find room, mm, nearest first.
const SHIFTS_MM: [f32; 9] = [0.0, 3.0, -3.0, 6.0, -6.0, 10.0, -10.0, 15.0, -15.0];
/// How far further inwards a slot may go, mm.
const INWARDS_MM: [f32; 5] = [0.0, 1.5, 3.0, 5.0, 8.0];
/// Most pairs of straps.
const MOST_PAIRS: usize = 12;
/// Suggested heights of a mark, mm, largest first.
const HEIGHTS_MM: [f32; 10] = [30.0, 26.0, 22.0, 19.0, 16.0, 14.0, 12.0, 10.0, 9.0, 8.0];

/// Suggests `count` pairs of strap slots: one left, one right, near the zone's edge, at even heights along the limb.
///
/// The strap runs around the limb, so the long side of each slot lies along it. Pairs that have no room are left out,
/// as on a zone that goes all the way round and has no sides.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn suggest_straps(
    skin: &Surface,
    zone: &Zone,
    strap_mm: f32,
    count: usize,
    job: &Job,
) -> Result<Vec<Fitting>, Cancelled> {
    let mut found: Vec<Fitting> = Vec::new();
    let design = Design::default();
    let Ok(workpiece) = Workpiece::new(skin, zone, &design, job) else { return Ok(found) };
    if !limits::STRAP.allows(strap_mm) {
        return Ok(found);
    }
    let mut layout = Layout::default();
    let covered = |v: &usize| zone.covered.distance_mm[*v] > 0.0;
    let heights = (0..skin.mesh().points.len()).filter(covered).map(|v| skin.mesh().points[v].z);
    let (low, high) = heights.fold((f32::INFINITY, f32::NEG_INFINITY), |(lo, hi), z| (lo.min(z), hi.max(z)));
    if low >= high {
        return Ok(found);
    }
    for k in 0..count.min(MOST_PAIRS) {
        let even = low + (high - low) * (k as f32 + 0.5) / count as f32;
        for shift in SHIFTS_MM {
            if let Some(pair) = pair_at(&workpiece, &mut layout, even + shift, strap_mm)? {
                found.extend(pair);
                break;
            }
        }
    }
    Ok(found)
}

/// A pair of slots at this height, placed; `None` where one of them has no room.
fn pair_at(
    workpiece: &Workpiece<'_>,
    layout: &mut Layout,
    height: f32,
    strap_mm: f32,
) -> Result<Option<[Fitting; 2]>, Cancelled> {
    let before = layout.openings.len();
    let left = slot_at(workpiece, layout, height, strap_mm, true)?;
    let right = if left.is_some() { slot_at(workpiece, layout, height, strap_mm, false)? } else { None };
    if let (Some(left), Some(right)) = (left, right) {
        return Ok(Some([left, right]));
    }
    layout.openings.truncate(before);
    Ok(None)
}

/// A slot on one side at this height, as near to the edge as it fits with some room to spare.
fn slot_at(
    workpiece: &Workpiece<'_>,
    layout: &mut Layout,
    height: f32,
    strap_mm: f32,
    left: bool,
) -> Result<Option<Fitting>, Cancelled> {
    for inwards in INWARDS_MM {
        workpiece.job.check()?;
        let inset = STRAP_WALL_MM + 0.5 * OPENING_MM + 0.5 + inwards;
        let Some(at_mm) = beside_edge(workpiece.skin, workpiece.zone, height, inset, left) else { continue };
        let slot = |spare_mm: f32| Fitting {
            kind: FittingKind::StrapSlot { strap_mm: strap_mm + spare_mm, opening_mm: OPENING_MM + spare_mm },
            at_mm,
            turn_deg: 90.0,
        };
        let number = layout.openings.len();
        if !fits(place_checked(workpiece, layout, number, &slot(SPARE_MM)))? {
            continue;
        }
        layout.openings.truncate(number);
        if fits(place_checked(workpiece, layout, number, &slot(0.0)))? {
            return Ok(Some(slot(0.0)));
        }
    }
    Ok(None)
}

/// The outermost skin point on one side at this height that is about `inset` inside the edge.
fn beside_edge(skin: &Surface, zone: &Zone, height: f32, inset: f32, left: bool) -> Option<Point3<f32>> {
    let points = &skin.mesh().points;
    let slice: Vec<usize> = (0..points.len()).filter(|v| (points[*v].z - height).abs() < 1.5).collect();
    let inside: Vec<usize> = slice.iter().copied().filter(|v| zone.covered.distance_mm[*v] > 0.0).collect();
    if inside.is_empty() {
        return None;
    }
    let mean = |of: &[usize]| of.iter().map(|v| points[*v].coords).sum::<Vector3<f32>>() / of.len() as f32;
    // The middle of the slice is the axis of a limb scanned all round; of a partial scan it lies too near the skin. A
    // point behind it, against the normals, serves for both.
    let outward = inside.iter().map(|v| skin.vertex_normals()[*v]).sum::<Vector3<f32>>();
    let outward = Vector3::new(outward.x, outward.y, 0.0).try_normalize(1e-6)?;
    let axis = mean(&slice) - outward * 20.0;
    // Left and right of the zone's own middle, wherever it lies on the limb.
    let middle = mean(&inside) - axis;
    let outward = Vector3::new(middle.x, middle.y, 0.0).try_normalize(1.0).unwrap_or(outward);
    let aside = Vector3::z().cross(&outward);
    let angle = |v: usize| {
        let q = points[v].coords - axis;
        q.dot(&aside).atan2(q.dot(&outward))
    };
    let band = inside.iter().copied().filter(|v| (inset..inset + 2.5).contains(&zone.covered.distance_mm[*v]));
    let side = band.filter(|v| (angle(*v) < 0.0) == left).map(|v| (angle(v).abs(), v));
    side.max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1))).map(|(_, v)| points[v])
}

/// Suggests a place and size for `text` at the roomiest spot that the fittings of `design` leave; `None` where not even
/// 8 mm high letters fit. It reads around the limb if it can, else along it.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn suggest_mark(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    text: &str,
    job: &Job,
) -> Result<Option<Mark>, Cancelled> {
    let Ok(workpiece) = Workpiece::new(skin, zone, design, job) else { return Ok(None) };
    let mut layout = Layout::default();
    for (number, fitting) in design.fittings.iter().enumerate() {
        // A fitting that has no room is for `arrange` to report; the others still count.
        if check_fitting(design, number, fitting).is_ok() {
            fits(place_checked(&workpiece, &mut layout, number, fitting))?;
        }
    }
    let Some(lettering) = glyphs::set(text, 1.0).ok().filter(|l| !l.is_blank()) else { return Ok(None) };
    let size = [0, 1].map(|i| lettering.ink[1][i] - lettering.ink[0][i]);
    let mut best: Option<Mark> = None;
    for at in roomiest(&workpiece, &layout)? {
        let smallest = best.as_ref().map_or(0.0, |m| m.height_mm);
        if let Some((height_mm, turn_deg)) = largest_at(&workpiece, &layout, &at, size, smallest)? {
            best = Some(Mark { text: text.to_owned(), height_mm, relief_mm: 0.8, at_mm: at.point, turn_deg });
        }
    }
    Ok(best)
}

/// The largest height above `smallest` in which letters fit at a skin point, and their turn; `size` is the width and
/// height of the text with capitals of 1 mm.
fn largest_at(
    workpiece: &Workpiece<'_>,
    layout: &Layout,
    at: &Hit,
    size: [f32; 2],
    smallest: f32,
) -> Result<Option<(f32, f32)>, Cancelled> {
    let rim_mm = rim_wall_mm(workpiece.design) + SPARE_MM;
    let room = room_at(workpiece, layout, at);
    let half = |height: f32| size.map(|s| 0.5 * s * height);
    let heights: Vec<f32> = HEIGHTS_MM
        .into_iter()
        .filter(|height| *height > smallest && half(*height)[0].min(half(*height)[1]) + rim_mm < room)
        .collect();
    let Some(largest) = heights.first().map(|h| half(*h)) else { return Ok(None) };
    let chart = workpiece.chart(at, 0.0, largest[0].hypot(largest[1]) * 1.1 + CHART_MARGIN_MM)?;
    let first_fit = |above: f32, direction: [f32; 2]| -> Result<Option<f32>, Cancelled> {
        for height in heights.iter().copied().filter(|h| *h > above) {
            let shape = Shape::RoundedBox { centre: [0.0; 2], direction, half: half(height), round: 0.0 };
            if workpiece.misfit(layout, &chart, &shape, rim_mm, 1.0)?.is_none() {
                return Ok(Some(height));
            }
        }
        Ok(None)
    };
    let around = first_fit(smallest, [1.0, 0.0])?;
    // Along the limb it is harder to read, so it has to be much larger.
    let along = first_fit(around.unwrap_or(smallest) * 1.3, [0.0, 1.0])?;
    Ok(along.map(|h| (h, 90.0)).or(around.map(|h| (h, 0.0))))
}

/// Skin points with the most room around them, at least 8 mm apart, roomiest first.
fn roomiest(workpiece: &Workpiece<'_>, layout: &Layout) -> Result<Vec<Hit>, Cancelled> {
    let mut spots: Vec<(f32, u32)> = Vec::new();
    for (i, t) in (0..workpiece.skin.mesh().triangles.len() as u32).step_by(7).enumerate() {
        if i % 1024 == 0 {
            workpiece.job.check()?;
        }
        let room = room_at(workpiece, layout, &middle_of(workpiece.skin, t));
        if room > 4.0 {
            spots.push((room, t));
        }
    }
    spots.sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut found: Vec<Hit> = Vec::new();
    for (_, t) in spots {
        let hit = middle_of(workpiece.skin, t);
        if found.iter().all(|f| (f.point - hit.point).norm() > 8.0) {
            found.push(hit);
            if found.len() == 10 {
                break;
            }
        }
    }
    Ok(found)
}

fn room_at(workpiece: &Workpiece<'_>, layout: &Layout, hit: &Hit) -> f32 {
    let edge = workpiece.edge_mm(hit);
    if edge <= 0.0 {
        return edge;
    }
    // The straight distance is never longer than the geodesic one, so this errs on the safe side.
    let straight = layout.placed().map(|p| (p.chart.centre.point - hit.point).norm() - p.shape.reach());
    straight.fold(edge, f32::min)
}

fn middle_of(skin: &Surface, triangle: u32) -> Hit {
    let [a, b, c] = skin.mesh().corners(triangle as usize);
    Hit {
        triangle,
        point: Point3::from((a.coords + b.coords + c.coords) / 3.0),
        weights: [1.0 / 3.0; 3],
        distance2: 0.0,
        feature: TriangleFeature::Face,
    }
}
