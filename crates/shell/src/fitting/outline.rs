//! Strap slots, lace holes, tie slots and hook-and-loop seats: their shapes, and giving them room.

use std::sync::Arc;

use mesh::{Hit, Job, Surface};
use nalgebra::Point3;
use zone::Zone;

use super::bend::{curvature, hollow_scale, outer_face_mm};
use super::room::{STRAP_WALL_MM, Trouble, check, place_near, require_matching, require_place};
use crate::design_check::check_fitting;
use crate::limits::{MIN_LIGAMENT_MM, rim_wall_mm};
use crate::{Chart, Cut, Design, Emboss, Fitting, FittingKind, Layout, Shape, ShellError, Source};

/// How much longer a strap slot is than the strap is wide, so that the strap slides, mm.
const STRAP_CLEARANCE_MM: f32 = 2.0;
/// Corner radius of strap slots and seats where there is room, mm: straps do not fray on it and corners do not tear.
const CORNER_MM: f32 = 2.0;
/// How much longer a tie slot is than the tie is wide, mm.
const TIE_CLEARANCE_MM: f32 = 1.0;
/// Width of a tie slot, mm: a tie or a shoelace is up to about 2 mm thick.
const TIE_OPENING_MM: f32 = 2.5;
/// How far charts reach beyond their shapes, mm.
pub(super) const CHART_MARGIN_MM: f32 = 5.0;

/// A box or disc about a point of the fitting's own chart, nominal size.
struct Part {
    centre: [f32; 2],
    half: [f32; 2],
    round: f32,
}

/// What a kind of fitting asks for.
struct Plan {
    parts: Vec<Part>,
    /// Wall to the trim line.
    rim_mm: f32,
    /// Depth below the outer face, or through the wall.
    depth_mm: Option<f32>,
    /// The setting to blame for its size, below the fitting.
    size: &'static str,
    thing: &'static str,
}

/// Places strap slots, lace holes, tie slots and hook-and-loop seats where the design says.
///
/// Sizes are nominal on the skin; where the limb bulges with radius R the opening is wider in the wall by 1 + d/R at
/// d mm off the skin, and in a hollow the shape is enlarged so that its narrowest place in the wall is still nominal.
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
    require_matching(skin, zone)?;
    for (number, fitting) in design.fittings.iter().enumerate() {
        job.step("placing fittings", number as f32 / design.fittings.len() as f32)?;
        place_fitting(skin, zone, design, layout, number, fitting)?;
    }
    Ok(())
}

/// Places one fitting, all its parts or none.
fn place_fitting(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: &mut Layout,
    number: usize,
    fitting: &Fitting,
) -> Result<(), ShellError> {
    check_fitting(design, number, fitting).map_err(|wrong| wrong.at(place_near(skin, &fitting.at_mm)))?;
    place_checked(skin, zone, design, layout, number, fitting)
}

/// Places one fitting whose values are allowed, all its parts or none.
pub(super) fn place_checked(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: &mut Layout,
    number: usize,
    fitting: &Fitting,
) -> Result<(), ShellError> {
    let setting = |field: &str| format!("shell.fittings[{number}].{field}");
    if matches!(fitting.kind, FittingKind::StitchHoles { .. }) {
        return Ok(());
    }
    let at = require_place(skin, &fitting.at_mm, &setting("at_mm"))?;
    let plan = plan(&fitting.kind, design);
    let reach =
        plan.parts.iter().map(|p| p.centre[0].hypot(p.centre[1]) + p.half[0].hypot(p.half[1])).fold(0.0, f32::max);
    let whole = Arc::new(Chart::new(skin, &at, fitting.turn_deg, reach * 1.3 + CHART_MARGIN_MM));
    let (cuts, embosses) = (layout.cuts.len(), layout.embosses.len());
    for part in &plan.parts {
        let placed = place_part(skin, zone, design, layout, &whole, fitting.turn_deg, &plan, part, number, &setting);
        if let Err(error) = placed {
            layout.cuts.truncate(cuts);
            layout.embosses.truncate(embosses);
            return Err(error);
        }
    }
    Ok(())
}

#[expect(clippy::too_many_arguments, reason = "one step of place_fitting, not called from anywhere else")]
fn place_part(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: &mut Layout,
    whole: &Arc<Chart>,
    turn_deg: f32,
    plan: &Plan,
    part: &Part,
    number: usize,
    setting: &impl Fn(&str) -> String,
) -> Result<(), ShellError> {
    let no_room = |place: Point3<f32>, what: String, cure: &str| ShellError::CannotBuild {
        setting: setting(plan.size),
        place,
        what,
        cure: cure.to_owned(),
    };
    // A hole away from the middle gets a chart of its own, so that it stays round on a bent limb.
    let (chart, centre) = if part.centre[0].abs() > part.half[0] {
        let hit: Hit = whole.skin_point(skin, part.centre).ok_or_else(|| {
            no_room(
                whole.centre.point,
                format!("{} reaches beyond the scanned skin", plan.thing),
                "Move it inwards or make it smaller.",
            )
        })?;
        let reach = part.half[0].hypot(part.half[1]);
        (Arc::new(Chart::new(skin, &hit, turn_deg, reach * 1.3 + CHART_MARGIN_MM)), [0.0; 2])
    } else {
        (whole.clone(), part.centre)
    };
    let bend = curvature(skin, &chart, part.half);
    let outer = outer_face_mm(skin, zone, design, &chart.centre);
    let scale = hollow_scale(bend, outer).ok_or_else(|| {
        no_room(
            chart.centre.point,
            format!("the limb is so hollow under {} that the wall closes up over it", plan.thing),
            "Move it to a flatter spot.",
        )
    })?;
    let half = [part.half[0] * scale[0], part.half[1] * scale[1]];
    // In a deep hollow the enlarged shape may outgrow the map.
    let needed = centre[0].hypot(centre[1]) + half[0].hypot(half[1]) + CHART_MARGIN_MM;
    let chart =
        if needed > chart.radius_mm { Arc::new(Chart::new(skin, &chart.centre, turn_deg, needed)) } else { chart };
    let shape = if part.half[0] == part.half[1] && part.round == part.half[0] {
        Shape::Circle { centre, radius: half[0].max(half[1]) }
    } else {
        Shape::RoundedBox { centre, direction: [1.0, 0.0], half, round: part.round.min(half[0]).min(half[1]) }
    };
    let hollow = (1.0 / scale[0].max(scale[1])).min(1.0);
    check(skin, zone, layout, &chart, &shape, plan.rim_mm, hollow).map_err(|trouble| {
        if matches!(trouble.trouble, Trouble::Meets { other, .. } if other == Source::Fitting(number)) {
            let what = format!("the openings of {} come closer than {MIN_LIGAMENT_MM} mm on the bent skin", plan.thing);
            return no_room(trouble.place, what, "Set them further apart, or move it to a flatter spot.");
        }
        let centre_off = skin.interpolate(&zone.covered.distance_mm, &chart.centre) <= 0.0;
        trouble.error(
            setting(if centre_off { "at_mm" } else { plan.size }),
            plan.thing,
            "Move it, turn it or make it smaller.",
        )
    })?;
    let source = Source::Fitting(number);
    match plan.depth_mm {
        Some(depth) => layout.embosses.push(Emboss { chart, shape, height_mm: -depth, source }),
        None => layout.cuts.push(Cut { chart, shape, source }),
    }
    Ok(())
}

fn plan(kind: &FittingKind, design: &Design) -> Plan {
    let rim_mm = rim_wall_mm(design);
    match kind {
        FittingKind::StrapSlot { strap_mm, opening_mm } => {
            let half = [0.5 * (strap_mm + STRAP_CLEARANCE_MM), 0.5 * opening_mm];
            Plan {
                parts: vec![Part { centre: [0.0; 2], half, round: CORNER_MM.min(half[1]) }],
                rim_mm: rim_mm.max(STRAP_WALL_MM),
                depth_mm: None,
                size: "kind.strap-slot.strap_mm",
                thing: "the strap slot",
            }
        }
        FittingKind::LaceHoles { count, hole_mm, pitch_mm } => {
            let radius = 0.5 * hole_mm;
            let middle = 0.5 * (*count as f32 - 1.0);
            let parts = (0..*count)
                .map(|i| Part { centre: [(i as f32 - middle) * pitch_mm, 0.0], half: [radius; 2], round: radius })
                .collect();
            let size = "kind.lace-holes.pitch_mm";
            Plan { parts, rim_mm, depth_mm: None, size, thing: "the row of lace holes" }
        }
        FittingKind::TieSlot { tie_mm, bridge_mm } => {
            let half = [0.5 * (tie_mm + TIE_CLEARANCE_MM), 0.5 * TIE_OPENING_MM];
            let aside = 0.5 * (bridge_mm + TIE_OPENING_MM);
            let parts = [-aside, aside].map(|v| Part { centre: [0.0, v], half, round: half[1] }).into();
            Plan { parts, rim_mm, depth_mm: None, size: "kind.tie-slot.tie_mm", thing: "the tie slot" }
        }
        FittingKind::HookAndLoopSeat { length_mm, width_mm, depth_mm } => {
            let half = [0.5 * length_mm, 0.5 * width_mm];
            Plan {
                parts: vec![Part { centre: [0.0; 2], half, round: CORNER_MM }],
                rim_mm,
                depth_mm: Some(*depth_mm),
                size: "kind.hook-and-loop-seat.length_mm",
                thing: "the hook-and-loop seat",
            }
        }
        // Stitch holes follow the edge and are placed after the ribs.
        FittingKind::StitchHoles { .. } => {
            let size = "kind.stitch-holes.hole_mm";
            Plan { parts: Vec::new(), rim_mm, depth_mm: None, size, thing: "the stitch holes" }
        }
    }
}
