//! Vents: openings through the wall in the space that rim, fittings, marks and ribs leave free.

mod bays;
mod convex;
mod grade;
mod honeycomb;
mod irregular;
mod lozenge;
mod opened;
mod raster;
mod round;
mod slot;
#[cfg(test)]
mod tests;
mod tidy;
mod triangle;
mod weave;

use std::sync::Arc;

use mesh::{Cancelled, Job, Surface};
use nalgebra::Point3;
use rayon::prelude::*;
use zone::Zone;

use self::bays::Bays;
use super::free_space::FreeSpace;
use super::lift::Lift;
use super::ribs::rib_half_foot_mm;
use super::tangent_frame::TangentFrame;
use super::voronoi::grown_size;
use crate::board::Board;
use crate::design_check::check_vents;
use crate::{Chart, Design, DesignItem, Layout, Opening, Shape, ShellError, VentKind, Vents};

/// More open than this, what is left is a net and no longer a shell.
pub const MOST_OPEN_SHARE: f64 = 0.6;

/// A vent is left out where its middle has less room than this share of its size.
const LEAST_CENTRE_ROOM: f32 = 0.4;

/// Charts reach this far beyond their vent: the field asks for 3 mm, and the triangle at the edge must be whole.
const CHART_MARGIN_MM: f32 = 4.5;

/// A vent before it gets its chart: a shape in the tangent plane of its site.
#[derive(Debug, Clone)]
struct Vent {
    frame: TangentFrame,
    shape: Shape,
}

/// Everything a kind of vent needs to lay itself out.
struct VentContext<'a> {
    skin: &'a Surface,
    vents: Vents,
    /// Distance of each vertex from the trim line, mm.
    trim_mm: &'a [f32],
    /// Area of the zone, mm².
    zone_mm2: f64,
    /// Free space of the vents.
    room: FreeSpace,
    /// Connected components of the free space, such as those between ribs.
    bays: Bays,
    /// The middle of the zone.
    start: TangentFrame,
    /// What lattices are laid out on.
    board: Board<'a>,
    /// The wall above the skin.
    lift: Lift,
    job: &'a Job,
}

/// Lays out the vents in the space that is left.
///
/// # Errors
/// [`ShellError::CannotBuild`] where no vent has room, or where the vents would leave too little wall.
pub fn place_vents(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: &mut Layout,
    job: &Job,
) -> Result<(), ShellError> {
    let Some(vents) = &design.vents else { return Ok(()) };
    job.step("vents", 0.0)?;
    let room = free_space(skin, zone, design, vents, layout, job)?;
    let Some(start) = innermost(skin, &zone.covered.distance_mm) else {
        return Err(refuse("size_mm", Point3::origin(), "the zone covers no skin".into(), "Make the zone bigger."));
    };
    check_vents(vents).map_err(|wrong| wrong.at(start.point()))?;
    let edge = -bays::BEYOND * (vents.size_mm + vents.ligament_mm);
    let bays = Bays::find(skin, &room, LEAST_CENTRE_ROOM * vents.size_mm, edge, job)?;
    let outer_mm = design.gap_mm + design.thickness_mm;
    let lift = Lift::new(skin, &zone.covered.distance_mm, design.gap_mm, outer_mm, job)?;
    let (middle_mm, ways) = lift.middle();
    let board = Board::over(skin, zone, ways, middle_mm, "shell.vents.size_mm", job)?;
    let zone_mm2 = FreeSpace::inside(&zone.covered.distance_mm, 0.0).area_above_mm2(skin, 0.0).max(1e-9);
    let trim_mm = &zone.covered.distance_mm;
    let context = VentContext { skin, vents: *vents, trim_mm, zone_mm2, room, bays, start, board, lift, job };
    let middle = context.start.point();
    let (found, told) = match vents.open_percent {
        Some(percent) => opened::to_share(context, 0.01 * f64::from(percent))?,
        None => (context.lay_out()?, None),
    };
    layout.notices.extend(told);
    if found.is_empty() {
        let what = format!(
            "no vent of {:.1} mm has room {:.1} mm from the rim and {:.1} mm from ribs and fittings",
            vents.size_mm, vents.rim_distance_mm, vents.ligament_mm
        );
        return Err(refuse("size_mm", middle, what, "Make the vents smaller or leave them out."));
    }
    let share = open_mm2(&found) / zone_mm2;
    if share > MOST_OPEN_SHARE {
        let what = format!(
            "the vents would open {:.0} % of the shell, more than the {:.0} % allowed",
            share * 100.0,
            MOST_OPEN_SHARE * 100.0
        );
        return Err(refuse("size_mm", middle, what, "Make the vents smaller or the wall between them wider."));
    }
    job.step("vents", 0.8)?;
    let openings: Vec<Opening> = found
        .into_par_iter()
        .map(|vent| {
            job.check()?;
            let radius = vent.shape.reach() + CHART_MARGIN_MM;
            let chart = Arc::new(Chart::new(skin, &vent.frame.hit, 0.0, radius, job)?);
            Ok(Opening { chart, shape: vent.shape, part_of: None, item: DesignItem::Vent })
        })
        .collect::<Result<_, ShellError>>()?;
    layout.openings.extend(openings);
    Ok(())
}

impl VentContext<'_> {
    /// The vents of its kind and spacing.
    fn lay_out(&self) -> Result<Vec<Vent>, ShellError> {
        let found = match self.vents.kind {
            VentKind::Round => round::lay_out(self)?,
            VentKind::Slot => slot::lay_out(self)?,
            VentKind::Honeycomb => honeycomb::lay_out(self)?,
            VentKind::Cells => irregular::lay_out(self)?,
            VentKind::Lozenge => lozenge::lay_out(self)?,
            VentKind::Triangle => triangle::lay_out(self)?,
        };
        Ok(grade::graded(self, found))
    }

    /// The same with another wall between the vents.
    fn with_spacing(self, ligament_mm: f32) -> Self {
        Self { vents: Vents { ligament_mm, ..self.vents }, ..self }
    }
}

/// What vents open on the skin, mm².
fn open_mm2(vents: &[Vent]) -> f64 {
    vents.iter().map(|v| f64::from(vent_area_mm2(&v.shape))).sum()
}

/// Area of an opening on the skin, mm². A drawing counts the grid squares whose middle is inside.
#[must_use]
pub fn vent_area_mm2(shape: &Shape) -> f32 {
    use std::f32::consts::PI;
    match shape {
        Shape::Circle { radius, .. } => PI * radius * radius,
        Shape::Slot { from, to, radius } => {
            PI * radius * radius + 2.0 * radius * (to[0] - from[0]).hypot(to[1] - from[1])
        }
        Shape::RoundedBox { half, round, .. } => 4.0 * half[0] * half[1] - (4.0 - PI) * round * round,
        Shape::RoundedPolygon { corners, round } => grown_size(corners, *round).0,
        Shape::Drawing { step, distance, .. } => distance.iter().filter(|d| **d < 0.0).count() as f32 * step * step,
    }
}

/// Share of the zone that the vents open, 0 to 1.
#[must_use]
pub fn open_share(layout: &Layout, zone: &Zone, skin: &Surface) -> f64 {
    let covered = FreeSpace::inside(&zone.covered.distance_mm, 0.0).area_above_mm2(skin, 0.0);
    let vents = layout.openings.iter().filter(|c| c.item == DesignItem::Vent);
    let open: f64 = vents.map(|c| f64::from(vent_area_mm2(&c.shape))).sum();
    if covered > 0.0 { open / covered } else { 0.0 }
}

fn free_space(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    vents: &Vents,
    layout: &Layout,
    job: &Job,
) -> Result<FreeSpace, Cancelled> {
    let mut room = FreeSpace::inside(&zone.covered.distance_mm, vents.rim_distance_mm);
    if let Some(ribs) = &design.ribs {
        room.keep_off(&layout.rib_distance_mm, rib_half_foot_mm(ribs) + vents.ligament_mm);
    }
    room.keep_off_placed(skin, layout, vents.ligament_mm, job)?;
    for relief in &zone.reliefs {
        let outside: Vec<f32> = relief.region.distance_mm.iter().map(|d| -d).collect();
        room.keep_off(&outside, vents.ligament_mm);
    }
    Ok(room)
}

/// The vertex in the middle of the innermost part of a region.
pub(super) fn innermost(skin: &Surface, distance_mm: &[f32]) -> Option<TangentFrame> {
    let inside: Vec<u32> = (0..distance_mm.len() as u32).filter(|v| distance_mm[*v as usize] > 0.0).collect();
    if distance_mm.len() != skin.mesh().points.len() {
        return None;
    }
    middle_of(skin, distance_mm, &inside)
}

/// The vertex in the middle of those of `vertices` that are farthest inside.
fn middle_of(skin: &Surface, distance_mm: &[f32], vertices: &[u32]) -> Option<TangentFrame> {
    let points = &skin.mesh().points;
    let depth = |v: &u32| distance_mm[*v as usize];
    let most = vertices.iter().map(depth).filter(|d| d.is_finite()).fold(0.0, f32::max);
    let inner: Vec<usize> = vertices.iter().filter(|v| depth(v) >= 0.9 * most).map(|v| *v as usize).collect();
    let sum = inner.iter().fold(nalgebra::Vector3::<f64>::zeros(), |s, v| s + points[*v].coords.cast());
    let middle = Point3::from((sum / inner.len().max(1) as f64).cast::<f32>());
    let off = |v: &usize| (points[*v] - middle).norm_squared();
    let best = inner.iter().copied().min_by(|a, b| off(a).total_cmp(&off(b)))?;
    Some(TangentFrame::new(skin, skin.nearest(&points[best], None)?))
}

fn refuse(field: &str, place: Point3<f32>, what: String, cure: &str) -> ShellError {
    ShellError::CannotBuild { setting: format!("shell.vents.{field}"), place, what, cure: cure.into() }
}
