//! Strap slots, lace holes, tie slots and hook-and-loop seats: their shapes, and giving them room.

use std::sync::Arc;

use mesh::{Job, Surface};
use nalgebra::Point3;
use zone::Zone;

use super::bend::{curvature, hollow_scale, outer_face_mm};
use super::following::fittings_in_place;
use super::placement::{Misfit, Reason, STRAP_WALL_MM, Workpiece};
use super::{name, way_out};
use crate::design_check::check_fitting;
use crate::limits::{MIN_LIGAMENT_MM, rim_wall_mm};
use crate::{Chart, Design, DesignItem, Emboss, Fitting, FittingKind, Layout, Opening, Shape, ShellError};

/// How much longer a strap slot is than the strap is wide, so that the strap slides, mm.
pub(super) const STRAP_CLEARANCE_MM: f32 = 2.0;
/// Corner radius of strap slots and seats where there is room, mm: straps do not fray on it and corners do not tear.
const CORNER_MM: f32 = 2.0;
/// How much longer a tie slot is than the tie is wide, mm.
const TIE_CLEARANCE_MM: f32 = 1.0;
/// Width of a tie slot, mm: a tie or a shoelace is up to about 2 mm thick.
const TIE_OPENING_MM: f32 = 2.5;
/// How far charts reach beyond their shapes, mm.
pub(in crate::fitting) const CHART_MARGIN_MM: f32 = 5.0;

/// One opening or seat of a fitting: a box or disc about a point of the fitting's own chart, nominal size.
struct Footprint {
    centre: [f32; 2],
    half: [f32; 2],
    round: f32,
}

/// What a fitting asks for.
struct Plan<'a> {
    number: usize,
    fitting: &'a Fitting,
    footprints: Vec<Footprint>,
    /// Wall to the trim line.
    rim_mm: f32,
    /// Depth below the outer face, or through the wall.
    depth_mm: Option<f32>,
    /// What it is called.
    thing: String,
}

/// Places strap slots, lace holes, tie slots and hook-and-loop seats where the design says.
///
/// Sizes are those in the wall. Where the limb bulges less of the skin is taken than that, and in a hollow more, for which
/// there must be room.
///
/// # Errors
/// [`ShellError::CannotBuild`] where one does not fit, with the setting, the place and a way out.
pub fn place_fittings(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: &mut Layout,
    job: &Job,
) -> Result<(), ShellError> {
    if design.fittings.is_empty() {
        return Ok(());
    }
    let workpiece = Workpiece::new(skin, zone, design, job)?;
    for (number, fitting) in design.fittings.iter().enumerate() {
        workpiece.allowed(check_fitting(design, number, fitting), &fitting.at_mm)?;
    }
    layout.fittings = fittings_in_place(skin, zone, design, layout, job)?;
    let fittings = layout.fittings.clone();
    for (number, fitting) in &fittings {
        let number = *number;
        job.step("placing fittings", number as f32 / fittings.len() as f32)?;
        if let Err(refusal) = place_checked(&workpiece, layout, number, fitting) {
            return Err(way_out::told(&workpiece, layout, number, fitting, refusal)?);
        }
    }
    Ok(())
}

/// Places one fitting whose values are allowed, all of it or nothing.
pub(in crate::fitting) fn place_checked(
    workpiece: &Workpiece<'_>,
    layout: &mut Layout,
    number: usize,
    fitting: &Fitting,
) -> Result<(), ShellError> {
    if matches!(fitting.kind, FittingKind::StitchHoles { .. }) {
        return Ok(());
    }
    let plan = plan(workpiece.design, number, fitting);
    let at = workpiece.require_place(&fitting.at_mm, &format!("{}.at_mm", plan.setting()))?;
    let far = |f: &Footprint| f.centre[0].hypot(f.centre[1]) + f.half[0].hypot(f.half[1]);
    let reach = plan.footprints.iter().map(far).fold(0.0, f32::max);
    let whole = Arc::new(workpiece.chart(&at, fitting.turn_deg, reach * 1.3 + CHART_MARGIN_MM)?);
    let (openings, embosses) = (layout.openings.len(), layout.embosses.len());
    for footprint in &plan.footprints {
        if let Err(error) = place_footprint(workpiece, layout, &plan, &whole, footprint) {
            layout.openings.truncate(openings);
            layout.embosses.truncate(embosses);
            return Err(error);
        }
    }
    Ok(())
}

fn place_footprint(
    workpiece: &Workpiece<'_>,
    layout: &mut Layout,
    plan: &Plan<'_>,
    whole: &Arc<Chart>,
    footprint: &Footprint,
) -> Result<(), ShellError> {
    let (skin, half) = (workpiece.skin, footprint.half);
    let (chart, centre) = own_chart(workpiece, plan, whole, footprint)?;
    let bend = curvature(skin, &chart, half);
    let outer = outer_face_mm(skin, workpiece.zone, workpiece.design, &chart.centre);
    let scale = hollow_scale(bend, outer).ok_or_else(|| {
        let what = format!("the limb is so hollow under {} that the wall closes up over it", plan.thing);
        plan.refuse(chart.centre.point, what, "Move it to a flatter spot.")
    })?;
    let enlarged = [half[0] * scale[0], half[1] * scale[1]];
    // In a deep hollow the enlarged shape may outgrow the map.
    let needed = centre[0].hypot(centre[1]) + enlarged[0].hypot(enlarged[1]) + CHART_MARGIN_MM;
    let chart = if needed > chart.radius_mm {
        Arc::new(workpiece.chart(&chart.centre, plan.fitting.turn_deg, needed)?)
    } else {
        chart
    };
    let drawn = |half: [f32; 2]| {
        if footprint.half[0] == footprint.half[1] && footprint.round == footprint.half[0] {
            return Shape::Circle { centre, radius: half[0].max(half[1]) };
        }
        let round = footprint.round.min(half[0]).min(half[1]);
        Shape::RoundedBox { centre, direction: [1.0, 0.0], half, round }
    };
    let hollow = (1.0 / scale[0].max(scale[1])).min(1.0);
    if let Some(misfit) = workpiece.misfit(layout, &chart, &drawn(enlarged), plan.rim_mm, hollow)? {
        let off_zone = workpiece.edge_mm(&chart.centre) <= 0.0;
        return Err(plan.refuse_misfit(&misfit, workpiece.design, off_zone));
    }
    let (shape, item) = (drawn(half), DesignItem::Fitting(plan.number));
    match plan.depth_mm {
        Some(depth) => layout.embosses.push(Emboss { chart, shape, height_mm: -depth, shades: None, item }),
        None => layout.openings.push(Opening { chart, shape, part_of: None, item }),
    }
    Ok(())
}

/// The chart in which a footprint is drawn, and its centre there: away from the middle of its fitting it gets a chart
/// of its own, so that a hole stays round on a bent limb.
fn own_chart(
    workpiece: &Workpiece<'_>,
    plan: &Plan<'_>,
    whole: &Arc<Chart>,
    footprint: &Footprint,
) -> Result<(Arc<Chart>, [f32; 2]), ShellError> {
    if footprint.centre[0].abs() <= footprint.half[0] {
        return Ok((whole.clone(), footprint.centre));
    }
    let hit = whole.skin_point(workpiece.skin, footprint.centre).ok_or_else(|| {
        let what = format!("{} reaches beyond the scanned skin", plan.thing);
        plan.refuse(whole.centre.point, what, "Move it inwards or make it smaller.")
    })?;
    let reach = footprint.half[0].hypot(footprint.half[1]);
    let chart = workpiece.chart(&hit, plan.fitting.turn_deg, reach * 1.3 + CHART_MARGIN_MM)?;
    Ok((Arc::new(chart), [0.0; 2]))
}

impl Plan<'_> {
    /// The fitting as a whole: which of its place, its turn and its size is at fault only the user can tell, who may
    /// have set none of them.
    fn setting(&self) -> String {
        format!("shell.fittings[{}]", self.number)
    }

    fn refuse(&self, place: Point3<f32>, what: String, cure: &str) -> ShellError {
        ShellError::CannotBuild { setting: self.setting(), place, what, cure: cure.to_owned() }
    }

    fn refuse_misfit(&self, misfit: &Misfit, design: &Design, off_zone: bool) -> ShellError {
        if matches!(misfit.reason, Reason::Meets { other, .. } if other == DesignItem::Fitting(self.number)) {
            let what = format!("the openings of {} come closer than {MIN_LIGAMENT_MM} mm on the bent skin", self.thing);
            return self.refuse(misfit.place, what, "Set them further apart, or move it to a flatter spot.");
        }
        let setting = if off_zone { format!("{}.at_mm", self.setting()) } else { self.setting() };
        misfit.error(setting, &self.thing, design, "It has no room at this place at any size: move it or turn it.")
    }
}

/// The footprints of each kind.
fn plan<'a>(design: &Design, number: usize, fitting: &'a Fitting) -> Plan<'a> {
    let rim_mm = rim_wall_mm(design);
    let thing = name::of_fitting(number, &fitting.kind);
    let plan = |footprints| Plan { number, fitting, footprints, rim_mm, depth_mm: None, thing };
    match &fitting.kind {
        FittingKind::StrapSlot { strap_mm, opening_mm } => {
            let half = [0.5 * (strap_mm + STRAP_CLEARANCE_MM), 0.5 * opening_mm];
            let slot = Footprint { centre: [0.0; 2], half, round: CORNER_MM.min(half[1]) };
            let rim_mm = rim_mm.max(STRAP_WALL_MM);
            Plan { rim_mm, ..plan(vec![slot]) }
        }
        FittingKind::LaceHoles { count, hole_mm, pitch_mm } => {
            let radius = 0.5 * hole_mm;
            let middle = 0.5 * (*count as f32 - 1.0);
            let hole =
                |i: u32| Footprint { centre: [(i as f32 - middle) * pitch_mm, 0.0], half: [radius; 2], round: radius };
            plan((0..*count).map(hole).collect())
        }
        FittingKind::TieSlot { tie_mm, bridge_mm } => {
            let half = [0.5 * (tie_mm + TIE_CLEARANCE_MM), 0.5 * TIE_OPENING_MM];
            let aside = 0.5 * (bridge_mm + TIE_OPENING_MM);
            let slots = [-aside, aside].map(|v| Footprint { centre: [0.0, v], half, round: half[1] });
            plan(slots.into())
        }
        FittingKind::HookAndLoopSeat { length_mm, width_mm, depth_mm } => {
            let half = [0.5 * length_mm, 0.5 * width_mm];
            let seat = Footprint { centre: [0.0; 2], half, round: CORNER_MM };
            Plan { depth_mm: Some(*depth_mm), ..plan(vec![seat]) }
        }
        // Stitch holes follow the edge and are placed after the ribs.
        FittingKind::StitchHoles { .. } => plan(Vec::new()),
    }
}
