//! What a new design starts from, by body site.

use mesh::{Job, Surface};
use scan::BodySite;
use shell::limits;
use shell::{Design, Fitting, RibLayout, Ribs, Rim, VentKind, Vents};
use zone::Zone;
use zone::map::MapError;

use crate::EngineError;

/// Two ribs along the limb are this share of the guard's width apart: outside them the straps have room, and between them
/// the vents and the number.
const RIBS_APART: f64 = 0.6;
/// Gap, wall, rim, ribs and vents for a body site.
///
/// Orthotic rules of thumb: 3.2 mm sheet for a forearm and larger parts, 2.4 mm for a hand; the gap is the liner plus
/// ease, larger where flesh moves under the guard. Blows come along the shin and the forearm bone, so ribs run along,
/// far enough apart that each bay holds two or three rows of vents.
#[must_use]
pub fn shell_for(site: BodySite) -> Design {
    let ribs = |layout, height_mm, width_mm, spacing_mm| Some(Ribs { layout, height_mm, width_mm, spacing_mm });
    let vents = |kind, size_mm, ligament_mm| Some(Vents { kind, size_mm, ligament_mm, ..Vents::USUAL });
    let plain = Design::default();
    match site {
        BodySite::Wrist => Design {
            gap_mm: 2.0,
            thickness_mm: 2.4,
            rim: Rim { round_mm: 1.0, flare_mm: 1.2, flare_width_mm: 14.0, bead_mm: 0.0 },
            vents: vents(VentKind::Slot, 4.0, 2.4),
            ..plain
        },
        BodySite::Shoulder => Design { gap_mm: 4.0, vents: vents(VentKind::Round, 7.0, 3.0), ..plain },
        BodySite::Ribs => Design { gap_mm: 4.0, thickness_mm: 2.6, vents: vents(VentKind::Slot, 6.0, 4.0), ..plain },
        BodySite::Thigh => Design { gap_mm: 4.0, vents: vents(VentKind::Cells, 10.0, 3.5), ..plain },
        BodySite::Shin => {
            Design { ribs: ribs(RibLayout::Along, 1.8, 5.0, 34.0), vents: vents(VentKind::Slot, 5.0, 3.0), ..plain }
        }
        // All of it lies over bone.
        BodySite::Ankle => Design { thickness_mm: 2.6, vents: None, ..plain },
        BodySite::Forearm => Design {
            ribs: ribs(RibLayout::Along, 1.8, 4.0, 34.0),
            vents: vents(VentKind::Honeycomb, 7.0, 2.6),
            ..plain
        },
        _ => Design { vents: vents(VentKind::Round, 6.0, 3.0), ..plain },
    }
}

/// Width of a strap by body site, mm: wide straps press less (p = T / (w·r)).
#[must_use]
pub fn strap_mm_for(site: BodySite) -> f32 {
    let [narrow, middle, wide] = limits::STRAP_WIDTHS_MM;
    match site {
        BodySite::Thigh => wide,
        BodySite::Shin | BodySite::Shoulder | BodySite::Ribs => middle,
        _ => narrow,
    }
}

/// How wide the covered skin is across its middle line and how long along it, mm; 0 where it cannot be laid flat.
fn extent_mm(skin: &Surface, zone: &Zone, job: &Job) -> Result<[f64; 2], EngineError> {
    let map = match zone.map(skin, job) {
        Ok(map) => map,
        Err(MapError::Cancelled(stop)) => return Err(stop.into()),
        Err(_) => return Ok([0.0; 2]),
    };
    let edge = map.level(&zone.covered.distance_mm);
    let nothing = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    let (low, high) = edge
        .iter()
        .flatten()
        .fold(nothing, |(low, high), p| ([low[0].min(p.x), low[1].min(p.y)], [high[0].max(p.x), high[1].max(p.y)]));
    Ok([0, 1].map(|k| (high[k] - low[k]).max(0.0)))
}

/// Sets two ribs so that they frame the field of vents, between it and the straps.
///
/// # Errors
/// Only that the work was stopped.
pub fn fit_ribs(design: &mut Design, skin: &Surface, zone: &Zone, job: &Job) -> Result<(), EngineError> {
    let [width, _] = extent_mm(skin, zone, job)?;
    if let Some(ribs) = design.ribs.as_mut().filter(|ribs| ribs.layout == RibLayout::Along && width > 0.0) {
        let limit = limits::RIB_SPACING.range();
        let wanted = (RIBS_APART * width).round() as f32;
        ribs.spacing_mm = wanted.max(limits::least_rib_spacing_mm(ribs)).clamp(*limit.start(), *limit.end());
    }
    Ok(())
}

/// Webbing that is sold narrower than the usual straps, mm.
const NARROW_STRAPS_MM: [f32; 2] = [20.0, 15.0];

/// The widest of the next narrower straps that have room for more slots than `found`, mm, and these slots.
fn narrower(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    strap_mm: f32,
    count: usize,
    found: usize,
    job: &Job,
) -> Result<Option<(f32, Vec<Fitting>)>, EngineError> {
    let usual = limits::STRAP_WIDTHS_MM.into_iter().rev().chain(NARROW_STRAPS_MM);
    let mut best: Option<(f32, Vec<Fitting>)> = None;
    for mm in usual.filter(|mm| *mm < strap_mm).take(2) {
        let slots = shell::fitting::suggest_straps(skin, zone, design, mm, count, job)?;
        if slots.len() > best.as_ref().map_or(found, |(_, most)| most.len()) {
            best = Some((mm, slots));
        }
    }
    Ok(best)
}

/// Fits a design to its zone: the usual ribs of its site get their distance, straps and the squad number are added where
/// the zone has room. Returns a sentence for each that has none.
///
/// # Errors
/// Only that the work was stopped; the design is then as it was.
pub fn add_fittings(
    design: &mut Design,
    skin: &Surface,
    zone: &Zone,
    site: BodySite,
    squad_number: Option<u32>,
    job: &Job,
) -> Result<Vec<String>, EngineError> {
    let mut fitted = design.clone();
    if fitted.ribs == shell_for(site).ribs {
        fit_ribs(&mut fitted, skin, zone, job)?;
    }
    let mut notices = Vec::new();
    let (strap_mm, count) = (strap_mm_for(site), shell::fitting::levels_by_length(skin, zone, job)?);
    let mut slots = shell::fitting::suggest_straps(skin, zone, &fitted, strap_mm, count, job)?;
    if slots.len() < 2 * count {
        let (found, wanted, wide) = (slots.len(), 2 * count, print::words::tenths(strap_mm));
        let room = format!("The zone has room for {found} of {wanted} slots for {wide} mm straps");
        notices.push(match narrower(skin, zone, &fitted, strap_mm, count, found, job)? {
            Some((mm, more)) => {
                slots = more;
                let others = if slots.len() < wanted { "; place the others by hand" } else { "" };
                let placed = slots.len();
                format!("{room}: {placed} for straps of {} mm were placed{others}.", print::words::tenths(mm))
            }
            None => format!("{room}. Place the others by hand."),
        });
    }
    fitted.fittings.extend(slots);
    if let Some(number) = squad_number {
        match shell::fitting::suggest_mark(skin, zone, &fitted, &number.to_string(), job)? {
            Some(mark) => fitted.marks.push(mark),
            None => notices.push(format!("The zone has no room for the number {number}; it was left out.")),
        }
    }
    *design = fitted;
    Ok(notices)
}

#[cfg(test)]
mod tests {
    use super::*;
    use test_shapes::{Diagonals, Wrap, grid};
    use zone::Region;

    /// A zone 30 mm high. A slot is 3 mm longer than its strap with the room that a suggestion spares, and needs 4 mm at
    /// both ends: 36 mm for a strap of 25, 31 for one of 20, 26 for one of 15.
    #[test]
    fn narrower_straps_are_taken_where_the_usual_have_no_room() {
        let skin: Surface =
            grid(160, 160, Wrap::None, Diagonals::Alike, |u, v| [160.0 * u - 80.0, 0.0, 160.0 * v - 80.0]).build();
        let distance_mm = skin.mesh().points.iter().map(|p| (60.0 - p.x.abs()).min(15.0 - p.z.abs())).collect();
        let zone = Zone { covered: Region { distance_mm, edges: Vec::new() }, ..Zone::default() };
        let mut design = Design::default();
        let said = add_fittings(&mut design, &skin, &zone, BodySite::Forearm, None, &Job::silent()).unwrap();
        assert!(
            said[0]
                .starts_with("The zone has room for 0 of 2 slots for 25 mm straps: 2 for straps of 15 mm were placed"),
            "{said:?}"
        );
        assert_eq!(design.fittings.len(), 2);
    }
}
