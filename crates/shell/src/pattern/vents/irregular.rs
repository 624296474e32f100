//! Free-form cells with rounded corners: the Voronoi cells on the skin of seeds that are thrown at random (dart
//! throwing) and evened out by Lloyd's relaxation.

use mesh::{Cancelled, SpatialHash};
use nalgebra::{Point2, Point3};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};
use rayon::prelude::*;

use super::tidy::tidy;
use super::{Vent, VentContext};
use crate::ShellError;
use crate::board::Board;
use crate::pattern::Site;
use crate::pattern::polygon::{area_and_centroid, least_width};
use crate::pattern::tangent_frame::TangentFrame;
use crate::pattern::voronoi::{CellTrim, LOOK_MM, VoronoiCells, grown_size, shape};

/// Rounds of moving each seed to the centroid of its Voronoi cell (Lloyd 1982, "Least squares quantization in PCM"):
/// few enough that the cells stay irregular, enough that none stands out.
const LLOYD_ROUNDS: usize = 9;

/// Rounds in which cells are split and scraps dropped.
const EVEN_OUT: std::ops::Range<usize> = 1..5;

/// A cell this many times as big as the mean one gets two sites.
const SPLIT_SHARE: f32 = 1.5;

/// A cell smaller than this share of the mean one loses its site.
const SCRAP_SHARE: f32 = 0.4;

/// Cells cut smaller than this share of the mean one by the rim, a rib or a fitting are left out.
const LEAST_AREA_SHARE: f32 = 0.35;

/// Cells narrower than this share of the size are left out.
const LEAST_WIDTH_SHARE: f32 = 0.5;

/// Sites nearer to the middle line than this share of the pitch are moved onto it.
const NEAR_MIDDLE: f32 = 0.3;

/// Corner radius as a share of the cell's least width.
const CORNER_SHARE: f32 = 0.3;

pub fn lay_out(context: &VentContext<'_>) -> Result<Vec<Vent>, ShellError> {
    let vents = &context.vents;
    let pitch_mm = vents.size_mm + vents.ligament_mm;
    // Walls are shared by two cells, so that cells along a border may reach half a wall beyond the room.
    let border = -0.5 * vents.ligament_mm;
    let mean = 0.75_f32.sqrt() * pitch_mm * pitch_mm;
    let mut sites = mirrored(context, throw_darts(context, pitch_mm, border)?, pitch_mm);
    for round in 0..LLOYD_ROUNDS {
        context.job.step("vents", 0.7 * round as f32 / LLOYD_ROUNDS as f32)?;
        let near = SpatialHash::of(2.3 * pitch_mm, sites.iter().map(|s| s.frame.point()));
        let cells = cells(context, &sites, &near, pitch_mm);
        let cut = CellTrim { half: pitch_mm, round: 0.0, step_mm: 0.5 * pitch_mm };
        let may_split = EVEN_OUT.contains(&round);
        let moved: Vec<Vec<Site>> = (0..sites.len())
            .into_par_iter()
            .map(|i| {
                context.job.check()?;
                let Some(mut planes) = cells.walls(i, 0.0) else { return Ok(Vec::new()) };
                let polygon = cells.trim(i, &mut planes, &context.room, border, &cut);
                Ok(moved(context, &sites[i], &polygon, may_split.then_some(mean)))
            })
            .collect::<Result<_, Cancelled>>()?;
        sites = mirrored(context, moved.into_iter().flatten().collect(), pitch_mm);
    }
    let near = SpatialHash::of(2.3 * pitch_mm, sites.iter().map(|s| s.frame.point()));
    let cells = cells(context, &sites, &near, pitch_mm);
    let vents: Vec<Option<Vent>> = (0..sites.len())
        .into_par_iter()
        .map(|i| {
            context.job.check()?;
            Ok(vent(context, &cells, i))
        })
        .collect::<Result<_, Cancelled>>()?;
    let steps = |a: Point2<f64>, b: Point2<f64>| (b - a).norm() / f64::from(pitch_mm);
    Ok(tidy(context, vents.into_iter().flatten().collect(), f64::from(pitch_mm), steps)?)
}

/// On a mirrored board the sites on the right with their mirror images; those near the middle line are moved onto it.
fn mirrored(context: &VentContext<'_>, sites: Vec<Site>, pitch_mm: f32) -> Vec<Site> {
    let board = &context.board;
    if !board.mirrored {
        return sites;
    }
    let near = f64::from(NEAR_MIDDLE * pitch_mm);
    let mut all = Vec::with_capacity(sites.len());
    for site in sites {
        let Some(place) = board.place_of(&site.frame.hit) else { continue };
        let at = |place| board.site(place).map(|found| Site { axis: [1.0, 0.0], ..found });
        if place.x >= near {
            all.push(site);
            all.extend(at(Board::mirror(place)));
        } else if place.x >= 0.0 {
            all.extend(at(Point2::new(0.0, place.y)));
        }
    }
    all
}

/// The site moved to the centroid of its cell. Between ribs the darts leave some bays too full and others too empty,
/// and moving cannot carry a site over a rib: with the `mean` cell's area given, big cells get two sites and scraps
/// none.
fn moved(context: &VentContext<'_>, site: &Site, polygon: &[[f32; 2]], mean: Option<f32>) -> Vec<Site> {
    let (area, middle) = area_and_centroid(polygon);
    let at = |way| {
        let frame = if area > 0.0 { site.frame.exp_map(context.skin, way) } else { None };
        Site { frame: frame.unwrap_or(site.frame), axis: [1.0, 0.0] }
    };
    match mean {
        Some(mean) if area < SCRAP_SHARE * mean => Vec::new(),
        Some(mean) if area > SPLIT_SHARE * mean => {
            let off = |p: &[f32; 2]| [p[0] - middle[0], p[1] - middle[1]];
            let far = polygon.iter().map(off).max_by(|a, b| a[0].hypot(a[1]).total_cmp(&b[0].hypot(b[1])));
            let [x, y] = far.unwrap_or_default();
            [0.4, -0.4].map(|s| at([middle[0] + s * x, middle[1] + s * y])).to_vec()
        }
        _ => vec![at(middle)],
    }
}

fn cells<'a>(
    context: &'a VentContext<'_>,
    sites: &'a [Site],
    near: &'a SpatialHash,
    pitch_mm: f32,
) -> VoronoiCells<'a> {
    let ligament_mm = context.vents.ligament_mm;
    VoronoiCells { skin: context.skin, sites, near, pitch_mm, ligament_mm, lift: &context.lift }
}

/// The opening of cell `i`, where one worth having fits.
fn vent(context: &VentContext<'_>, cells: &VoronoiCells<'_>, i: usize) -> Option<Vent> {
    let size = context.vents.size_mm;
    let mean = 0.75_f32.sqrt() * size * size;
    let frame = cells.sites[i].frame;
    let mut planes = cells.walls(i, 1.0)?;
    let sharp = CellTrim { half: 0.9 * size, round: 0.0, step_mm: LOOK_MM };
    let polygon = cells.trim(i, &mut planes, &context.room, 0.0, &sharp);
    let width = least_width(&polygon);
    if polygon.len() < 3 || width < LEAST_WIDTH_SHARE * size {
        return None;
    }
    let round = CORNER_SHARE * width;
    let cut = CellTrim { round, ..sharp };
    let polygon = cells.trim(i, &mut planes, &context.room, 0.0, &cut);
    if polygon.len() < 3 {
        return None;
    }
    let (area, width) = grown_size(&polygon, round);
    let fits = area >= LEAST_AREA_SHARE * mean
        && width >= LEAST_WIDTH_SHARE * size
        && cells.has_room(i, &polygon, round, &context.room);
    fits.then(|| Vent { frame, shape: shape(polygon, round) })
}

/// As many seeds as cells fit, thrown at random and kept where none is too near (Cook 1986, "Stochastic sampling in
/// computer graphics": dart throwing with a shrinking radius).
fn throw_darts(context: &VentContext<'_>, pitch_mm: f32, border: f32) -> Result<Vec<Site>, Cancelled> {
    const FIRST_RADIUS: f32 = 0.85;
    const SHRINK: f32 = 0.93;
    const DARTS_A_LOOK: usize = 256;
    let mesh = context.skin.mesh();
    let clearance = context.room.clearance_mm();
    let mut total = 0.0;
    let areas: Vec<(f64, u32)> = (0..mesh.triangles.len())
        .filter(|t| mesh.triangles[*t].iter().any(|v| clearance[*v as usize] > border))
        .map(|t| {
            total += 0.5 * mesh.cross(t).norm();
            (total, t as u32)
        })
        .collect();
    let area = context.room.area_above_mm2(context.skin, border);
    let wanted = (area / (0.75_f64.sqrt() * f64::from(pitch_mm).powi(2))).round().max(1.0) as usize;
    let mut random = Pcg64Mcg::seed_from_u64(context.vents.seed);
    // 24 bits fill an f32 exactly, on every machine.
    let mut throw = || (random.next_u32() >> 8) as f32 / (1_u32 << 24) as f32;
    let mut near = SpatialHash::new(pitch_mm);
    let mut sites: Vec<Site> = Vec::new();
    let mut radius = FIRST_RADIUS * pitch_mm;
    while sites.len() < wanted && radius > 0.3 * pitch_mm && !areas.is_empty() {
        for dart in 0..8 * wanted {
            if dart % DARTS_A_LOOK == 0 {
                context.job.check()?;
            }
            let at = f64::from(throw()) * total;
            let (u, v) = (throw(), throw());
            let found = areas.partition_point(|(sum, _)| *sum < at).min(areas.len() - 1);
            let [a, b, c] = mesh.corners(areas[found].1 as usize);
            let (u, v) = if u + v > 1.0 { (1.0 - u, 1.0 - v) } else { (u, v) };
            let point: Point3<f32> = a + (b - a) * u + (c - a) * v;
            if !near.within(&point, radius).is_empty() {
                continue;
            }
            let Some(hit) = context.skin.nearest(&point, Some(areas[found].1)) else { continue };
            let frame = TangentFrame::new(context.skin, hit);
            if context.room.at(context.skin, &frame) <= border {
                continue;
            }
            near.add(point);
            sites.push(Site { frame, axis: [1.0, 0.0] });
            if sites.len() == wanted {
                break;
            }
        }
        radius *= SHRINK;
    }
    Ok(sites)
}
