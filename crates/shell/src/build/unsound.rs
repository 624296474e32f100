//! A shell that stays unsound is refused, with the setting that is most likely to cause its worst place.

use mesh::Surface;
use mesh::sound::SoundReport;
use nalgebra::Point3;
use zone::{Bump, Zone};

use crate::{Design, DesignItem, Layout, ShellError};

/// What lies nearer than this to a fault is taken to cause it, mm.
const NEAR_MM: f32 = 3.0;

/// The refusal of a shell by what is not sound about it.
pub(super) fn refusal(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: &Layout,
    report: &SoundReport,
) -> ShellError {
    let place = report.worst().unwrap_or_default();
    let (setting, cure) = cause(skin, zone, design, layout, &place);
    let faults = report.faults();
    let fault = faults.first().map_or("", |fault| fault.trim_end_matches('.'));
    let what = format!("the shell would not be sound: {}", lower_first(fault));
    ShellError::CannotBuild { setting, place, what, cure: cure.to_owned() }
}

fn lower_first(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// The setting most likely at fault at a place, and what may help.
fn cause(skin: &Surface, zone: &Zone, design: &Design, layout: &Layout, place: &Point3<f32>) -> (String, &'static str) {
    let Some(hit) = skin.nearest(place, None) else { return ("zone".into(), "Clean the scan there.") };
    let lies_by = |bump: &Bump| {
        let inside = skin.interpolate(&bump.region.distance_mm, &hit);
        inside > -bump.fades_over_mm() - NEAR_MM
    };
    let placed = layout.nearest_placed(skin, &hit).filter(|(distance, _)| *distance < NEAR_MM);
    let by_relief = zone.reliefs.iter().any(lies_by);
    let by_rib = !layout.rib_distance_mm.is_empty()
        && design.ribs.is_some_and(|r| {
            skin.interpolate(&layout.rib_distance_mm, &hit) < 0.5 * r.width_mm + r.height_mm + NEAR_MM
        });
    let edge_mm = skin.interpolate(&zone.covered.distance_mm, &hit);
    match placed {
        Some((_, DesignItem::Fitting(n))) => {
            return (format!("shell.fittings[{n}]"), "Move it to a flatter spot, away from reliefs and the edge.");
        }
        Some((_, DesignItem::Mark(n))) => {
            return (format!("shell.marks[{n}]"), "Move it to a flatter spot, or raise it less.");
        }
        Some((_, DesignItem::Picture(n))) => {
            return (format!("shell.pictures[{n}]"), "Move it to a flatter spot, or raise it less.");
        }
        Some((_, DesignItem::Vent)) => {
            return (
                "shell.vents".into(),
                "Take vents of another size or kind, or lay a relief there, which they keep off.",
            );
        }
        None => {}
    }
    if by_rib {
        ("shell.ribs".into(), "Make the ribs lower, or set them wider apart.")
    } else if design.rim.flare_mm > 0.0 && edge_mm < design.rim.flare_width_mm {
        ("shell.rim.flare_mm".into(), "Lift the rim less, or draw the zone's edge away from there.")
    } else if by_relief {
        ("zone".into(), "Make the relief there lower, or let it fade out over a longer way.")
    } else {
        ("zone".into(), "Draw the zone so that it does not reach into the narrow hollow there, or smooth the scan.")
    }
}
