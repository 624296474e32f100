//! Six-sided openings in rows.

use std::f32::consts::{FRAC_PI_3, TAU};

use mesh::{Cancelled, SpatialHash};
use rayon::prelude::*;

use super::bays::lay_bays;
use super::raster::Raster;
use super::tidy::tidy;
use super::weave::{Weave, most_places};
use super::{Vent, VentContext};
use crate::ShellError;
use crate::pattern::Site;
use crate::pattern::polygon::{HalfPlane, clip_box};
use crate::pattern::voronoi::{VoronoiCells, grown_size, shape};

/// A place counts as roomy from this much room on, in widths of a cell.
const ROOM: f32 = 0.54;

/// A cell with less than this share of the regular one's area would show as a flaw.
const LEAST_AREA_SHARE: f32 = 0.8;

pub fn lay_out(context: &VentContext<'_>) -> Result<Vec<Vent>, ShellError> {
    let raster = Raster::new(context)?;
    // Six-sided cells lie as well in rows as in columns.
    let pitch = f64::from(context.vents.size_mm + context.vents.ligament_mm);
    let weaves = [Weave::rows(pitch), Weave::columns(pitch)];
    // Between the radius of the circle in a cell and that round it.
    let laid = most_places(context, &raster, &weaves, ROOM * context.vents.size_mm)?;
    let Some(weave) = laid.first().map(|l| l.weave) else { return Ok(Vec::new()) };
    let bays: Vec<(u32, Vec<Site>)> = laid.iter().map(|l| (l.bay, l.sites(&context.board, &raster))).collect();
    let vents = lay_bays(context, &bays, |sites| hexagons(context, sites, pitch as f32))?;
    Ok(tidy(context, vents, pitch, |a, b| weave.steps_between(a, b))?)
}

/// A cell is at most this many times as wide as set.
const MOST_GROWN: f32 = 1.06;

/// The corner radius: sharp inner corners are where a print tears.
fn corner_mm(size_mm: f32) -> f32 {
    (0.1 * size_mm).clamp(0.3, 1.2)
}

fn hexagons(context: &VentContext<'_>, sites: &[Site], pitch_mm: f32) -> Result<Vec<Vent>, Cancelled> {
    let near = SpatialHash::of(2.3 * pitch_mm, sites.iter().map(|s| s.frame.point()));
    let cells = VoronoiCells {
        skin: context.skin,
        sites,
        near: &near,
        pitch_mm,
        ligament_mm: context.vents.ligament_mm,
        lift: &context.lift,
    };
    let size = context.vents.size_mm;
    let round = corner_mm(size);
    // Area of a regular hexagon of inradius r: 2 √3 r².
    let regular = 2.0 * 3.0_f32.sqrt() * 0.25 * size * size;
    let hexagon = |i: usize| -> Option<Vent> {
        if context.room.at(context.skin, &sites[i].frame) < 0.4 * size {
            return None;
        }
        let mut planes = cells.walls(i, 1.0)?;
        close(&mut planes, &sites[i], 0.5 * size);
        let polygon = clip_box(size, &planes, round);
        let fits = polygon.len() >= 3
            && grown_size(&polygon, round).0 >= LEAST_AREA_SHARE * regular
            && cells.has_room(i, &polygon, round, &context.room);
        fits.then(|| Vent { frame: sites[i].frame, shape: shape(polygon, round) })
    };
    let all: Vec<Option<Vent>> = (0..sites.len())
        .into_par_iter()
        .map(|i| {
            context.job.check()?;
            Ok(hexagon(i))
        })
        .collect::<Result<_, Cancelled>>()?;
    Ok(all.into_iter().flatten().collect())
}

/// Closes a cell on the sides where it has no neighbour, so that it is still six-sided.
fn close(planes: &mut Vec<HalfPlane>, site: &Site, inradius: f32) {
    let bound = 1.25 * inradius;
    let angles: Vec<f32> = planes.iter().filter(|p| p.offset < bound).map(|p| p.normal[1].atan2(p.normal[0])).collect();
    // The sides' common direction, modulo a sixth of a turn.
    let (s, c) = angles.iter().fold((0.0, 0.0), |(s, c), a| (s + (6.0 * a).sin(), c + (6.0 * a).cos()));
    let first = if angles.is_empty() { site.axis[1].atan2(site.axis[0]) } else { f32::atan2(s, c) / 6.0 };
    for k in 0..6 {
        let angle = first + k as f32 * FRAC_PI_3;
        let apart = |a: &f32| {
            let d = (a - angle).rem_euclid(TAU);
            d.min(TAU - d)
        };
        if !angles.iter().any(|a| apart(a) < 0.45 * FRAC_PI_3) {
            planes.push(HalfPlane { normal: [angle.cos(), angle.sin()], offset: inradius });
        }
    }
    // Where the lattice is loose, cells grow a little, so that the walls between them stay even.
    for plane in planes.iter_mut().filter(|p| p.offset < bound) {
        plane.offset = plane.offset.min(MOST_GROWN * inradius);
    }
}
