//! What a new design starts from, by body site.

use mesh::{Job, Surface};
use scan::BodySite;
use shell::limits;
use shell::{Design, RibLayout, Ribs, Rim, VentKind, Vents};
use zone::Zone;
use zone::map::MapError;

use crate::EngineError;

/// Two ribs along the limb are this share of the guard's width apart: outside them the straps have room, and between them
/// the vents and the number.
const RIBS_APART: f64 = 0.6;
/// Guards from this length on have two straps, mm.
const TWO_STRAPS_FROM_MM: f64 = 100.0;
/// Guards from this length on have three, mm.
const THREE_STRAPS_FROM_MM: f64 = 260.0;

/// Gap, wall, rim, ribs and vents for a body site.
///
/// Orthotic rules of thumb: 3.2 mm sheet for a forearm and larger parts, 2.4 mm for a hand; the gap is the liner plus
/// ease, larger where flesh moves under the guard. Blows come along the shin and the forearm bone, so ribs run along,
/// far enough apart that each bay holds two or three rows of vents.
#[must_use]
pub fn shell_for(site: BodySite) -> Design {
    let ribs = |layout, height_mm, width_mm, spacing_mm| Some(Ribs { layout, height_mm, width_mm, spacing_mm });
    let vents = |kind, size_mm, ligament_mm| Some(Vents { kind, size_mm, ligament_mm, rim_distance_mm: 7.0, seed: 1 });
    let plain = Design::default();
    match site {
        BodySite::Wrist => Design {
            gap_mm: 2.0,
            thickness_mm: 2.4,
            rim: Rim { round_mm: 1.0, flare_mm: 1.2, flare_width_mm: 14.0 },
            vents: vents(VentKind::Round, 5.0, 2.6),
            ..plain
        },
        BodySite::Shoulder => Design { gap_mm: 4.0, vents: vents(VentKind::Honeycomb, 8.0, 3.0), ..plain },
        BodySite::Ribs => Design { gap_mm: 4.0, thickness_mm: 2.6, vents: vents(VentKind::Slot, 6.0, 4.0), ..plain },
        BodySite::Thigh => Design { gap_mm: 4.0, vents: vents(VentKind::Cells, 10.0, 3.5), ..plain },
        BodySite::Shin => {
            Design { ribs: ribs(RibLayout::Along, 1.8, 5.0, 34.0), vents: vents(VentKind::Slot, 5.0, 3.0), ..plain }
        }
        BodySite::Ankle => Design { thickness_mm: 2.6, vents: vents(VentKind::Round, 5.0, 2.6), ..plain },
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

/// Number of straps by the length of the guard along the limb, mm: one strap lets a long guard turn about it.
fn strap_count(length_mm: f64) -> usize {
    match length_mm {
        ..TWO_STRAPS_FROM_MM => 1,
        ..THREE_STRAPS_FROM_MM => 2,
        _ => 3,
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

/// Adds straps and the squad number where the zone has room; returns a sentence for each that has none.
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
    let mut notices = Vec::new();
    let (strap_mm, count) = (strap_mm_for(site), strap_count(extent_mm(skin, zone, job)?[1]));
    let fittings = shell::fitting::suggest_straps(skin, zone, strap_mm, count, job)?;
    if fittings.len() < 2 * count {
        notices.push(format!(
            "The zone has room for {} of {} strap slots of {} mm; place the others by hand or use narrower straps.",
            fittings.len(),
            2 * count,
            print::words::tenths(strap_mm)
        ));
    }
    let before = design.fittings.len();
    design.fittings.extend(fittings);
    if let Some(number) = squad_number {
        let found = shell::fitting::suggest_mark(skin, zone, design, &number.to_string(), job);
        match found.inspect_err(|_| design.fittings.truncate(before))? {
            Some(mark) => design.marks.push(mark),
            None => notices.push(format!("The zone has no room for the number {number}; it was left out.")),
        }
    }
    Ok(notices)
}
