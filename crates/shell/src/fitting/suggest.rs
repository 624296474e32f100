//! Where straps and a number go when nobody has said so yet.

use mesh::{Hit, Surface, TriangleFeature};
use nalgebra::{Point3, Vector3};
use zone::Zone;

use super::glyphs;
use super::outline::{CHART_MARGIN_MM, place_checked, place_fittings};
use super::room::{STRAP_WALL_MM, check, require_matching};
use crate::limits::{self, rim_wall_mm};
use crate::{Chart, Design, Fitting, FittingKind, Layout, Mark, Shape};

/// Opening of a suggested strap slot, mm.
const OPENING_MM: f32 = 4.0;
/// A suggestion leaves this much more room than it needs, so that it stays good when the zone's edge is touched up, mm.
const SPARE_MM: f32 = 1.0;
/// How far up or down from its even height a pair may move to find room, mm, nearest first.
const SHIFTS_MM: [f32; 9] = [0.0, 3.0, -3.0, 6.0, -6.0, 10.0, -10.0, 15.0, -15.0];
/// How far further inwards a slot may go, mm.
const INWARDS_MM: [f32; 5] = [0.0, 1.5, 3.0, 5.0, 8.0];
/// Suggested heights of a mark, mm, largest first.
const HEIGHTS_MM: [f32; 10] = [30.0, 26.0, 22.0, 19.0, 16.0, 14.0, 12.0, 10.0, 9.0, 8.0];

/// Suggests `count` pairs of strap slots: one left, one right, near the zone's edge, at even heights along the limb.
///
/// The strap runs around the limb, so the long side of each slot lies along it. Pairs that have no room are left out, as
/// on a zone that goes all the way round and has no sides.
#[must_use]
pub fn suggest_straps(skin: &Surface, zone: &Zone, strap_mm: f32, count: usize) -> Vec<Fitting> {
    let mut found: Vec<Fitting> = Vec::new();
    if require_matching(skin, zone).is_err() || !limits::STRAP.allows(strap_mm) {
        return found;
    }
    let design = Design::default();
    let mut layout = Layout::default();
    let covered = |v: &usize| zone.covered.distance_mm[*v] > 0.0;
    let heights = (0..skin.mesh().points.len()).filter(covered).map(|v| skin.mesh().points[v].z);
    let (low, high) = heights.fold((f32::INFINITY, f32::NEG_INFINITY), |(lo, hi), z| (lo.min(z), hi.max(z)));
    if low >= high {
        return found;
    }
    for k in 0..count.min(12) {
        let even = low + (high - low) * (k as f32 + 0.5) / count as f32;
        let pair = SHIFTS_MM.iter().find_map(|shift| pair_at(skin, zone, &design, &mut layout, even + shift, strap_mm));
        found.extend(pair.into_iter().flatten());
    }
    found
}

fn pair_at(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: &mut Layout,
    height: f32,
    strap_mm: f32,
) -> Option<[Fitting; 2]> {
    let before = layout.cuts.len();
    let mut slot = |left: bool| {
        INWARDS_MM.iter().find_map(|inwards| {
            let inset = STRAP_WALL_MM + 0.5 * OPENING_MM + 0.5 + inwards;
            let at_mm = beside_edge(skin, zone, height, inset, left)?;
            let kind = FittingKind::StrapSlot { strap_mm, opening_mm: OPENING_MM };
            let fitting = Fitting { kind, at_mm, turn_deg: 90.0 };
            let kept = layout.cuts.len();
            let roomy = FittingKind::StrapSlot { strap_mm: strap_mm + SPARE_MM, opening_mm: OPENING_MM + SPARE_MM };
            let tried = place_checked(skin, zone, design, layout, before, &Fitting { kind: roomy, ..fitting.clone() });
            layout.cuts.truncate(kept);
            tried.and_then(|()| place_checked(skin, zone, design, layout, before, &fitting)).ok().map(|()| fitting)
        })
    };
    let pair = slot(true).and_then(|left| Some([left, slot(false)?]));
    if pair.is_none() {
        layout.cuts.truncate(before);
    }
    pair
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
    // On a limb that is scanned all round the middle of the slice is its axis; on a part of one the middle of the skin
    // lies too near to it, and a point behind it, against the normals, does as well.
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
#[must_use]
pub fn suggest_mark(skin: &Surface, zone: &Zone, design: &Design, text: &str) -> Option<Mark> {
    require_matching(skin, zone).ok()?;
    let mut layout = Layout::default();
    // A fitting that has no room is for `arrange` to report; the others still count.
    let _ = place_fittings(skin, zone, design, &mut layout, &mesh::Job::silent());
    let ink = glyphs::set(text, 1.0).ok().filter(|l| !l.is_blank())?.ink;
    let rim_mm = rim_wall_mm(design) + 1.0;

    let mut best: Option<Mark> = None;
    for at in roomiest(skin, zone, &layout) {
        let room = room_at(skin, zone, &layout, &at);
        let half = |height: f32| [0, 1].map(|i| 0.5 * (ink[1][i] - ink[0][i]) * height);
        let smallest = best.as_ref().map_or(0.0, |m| m.height_mm);
        let heights: Vec<f32> = HEIGHTS_MM
            .into_iter()
            .filter(|height| *height > smallest && half(*height)[0].min(half(*height)[1]) + rim_mm < room)
            .collect();
        let Some(largest) = heights.first().map(|h| half(*h)) else { continue };
        let chart = Chart::new(skin, &at, 0.0, largest[0].hypot(largest[1]) * 1.1 + CHART_MARGIN_MM);
        let fits = |height: f32, direction: [f32; 2]| {
            let shape = Shape::RoundedBox { centre: [0.0; 2], direction, half: half(height), round: 0.0 };
            check(skin, zone, &layout, &chart, &shape, rim_mm, 1.0).is_ok()
        };
        let around = heights.iter().copied().find(|h| fits(*h, [1.0, 0.0]));
        // Along the limb it has to be a good deal larger to be worth turning one's head.
        let needed = around.unwrap_or(smallest) * 1.3;
        let along = heights.iter().copied().filter(|h| *h > needed).find(|h| fits(*h, [0.0, 1.0]));
        let found = along.map(|h| (h, 90.0)).or(around.map(|h| (h, 0.0)));
        if let Some((height_mm, turn_deg)) = found {
            best = Some(Mark { text: text.to_owned(), height_mm, relief_mm: 0.8, at_mm: at.point, turn_deg });
        }
    }
    best
}

/// Skin points with the most room around them, at least 8 mm apart, roomiest first.
fn roomiest(skin: &Surface, zone: &Zone, layout: &Layout) -> Vec<Hit> {
    let mut spots: Vec<(f32, u32)> = (0..skin.mesh().triangles.len() as u32)
        .step_by(7)
        .map(|t| (room_at(skin, zone, layout, &middle_of(skin, t)), t))
        .filter(|(room, _)| *room > 4.0)
        .collect();
    spots.sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut found: Vec<Hit> = Vec::new();
    for (_, t) in spots {
        let hit = middle_of(skin, t);
        if found.iter().all(|f| (f.point - hit.point).norm() > 8.0) {
            found.push(hit);
            if found.len() == 10 {
                break;
            }
        }
    }
    found
}

fn room_at(skin: &Surface, zone: &Zone, layout: &Layout, hit: &Hit) -> f32 {
    let edge = skin.interpolate(&zone.covered.distance_mm, hit);
    if edge <= 0.0 {
        return edge;
    }
    // The straight way to a thing is never longer than that over the skin, so this errs on the safe side.
    let cuts = layout.cuts.iter().map(|c| (&c.chart, &c.shape));
    let embosses = layout.embosses.iter().map(|e| (&e.chart, &e.shape));
    cuts.chain(embosses)
        .map(|(chart, shape)| (chart.centre.point - hit.point).norm() - shape.reach())
        .fold(edge, f32::min)
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
