//! What a new design starts from, by body site.

use mesh::{Job, Surface};
use scan::BodySite;
use shell::limits;
use shell::{Design, RibLayout, Ribs, Rim, VentKind, Vents};
use zone::{RegionKind, Zone};

use crate::EngineError;

/// A new relief: as much again as a usual gap, fading out over 10 mm so that the shell has no step.
pub const RELIEF: RegionKind = RegionKind::Relief { depth_mm: 3.0, falloff_mm: 10.0 };

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

/// Number of straps by body site.
fn strap_count(site: BodySite) -> usize {
    match site {
        BodySite::Wrist | BodySite::Ankle | BodySite::Shoulder | BodySite::Ribs => 1,
        _ => 2,
    }
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
    let (strap_mm, count) = (strap_mm_for(site), strap_count(site));
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
