//! What the program says about a guard, in one place for the page, the command line and the documents.

use scan::BodySite;
use shell::{Design, FittingKind, RibLayout, VentKind};

/// What must be said wherever a guard is shown, made or handed over.
#[must_use]
pub fn cautions() -> &'static [&'static str] {
    &[
        "Not a certified protector and not a medical device. All figures compare designs and materials with each \
         other; none is a guarantee against injury.",
        "Medical staff decide whether the athlete may play with it. Local rules and officials decide whether it may \
         be worn: ask before the match, and cover the outside with foam where they want it.",
        "Never wear it on bare skin. Check the skin before and after: stop and ask medical staff if redness lasts \
         longer than 20 to 30 minutes, or on pain, numbness or a change of colour.",
        "Before each use feel the rim for sharp edges, and look for cracks and loose layers. Throw a cracked shell away.",
        "Heat: PLA softens from 50 to 60 °C. Never leave the guard in a hot car, hot water or a dishwasher. Wash it \
         with cool water and mild soap.",
    ]
}

/// How to print a shell. Common practice, not rules: printers differ.
#[must_use]
pub fn print_hints() -> &'static [&'static str] {
    &[
        "Print it solid (100 % infill, or walls until they meet): weights and costs here are for a solid shell.",
        "Layers are the weak direction, about half as strong. Lay the part so that a blow does not pull them apart.",
        "Layer 0.2 mm, line 0.4 to 0.5 mm, supports where it hangs over more than 45°. Flexible filament: slowly.",
        "Take supports off the inside with care, then smooth the rim and the inside until nothing catches on a cloth.",
        "Weigh it: far below the weight in the table means that the print has gaps.",
    ]
}

/// The body site as in a sentence.
#[must_use]
pub fn site(site: BodySite) -> &'static str {
    match site {
        BodySite::Forearm => "forearm",
        BodySite::Wrist => "wrist and thumb",
        BodySite::Shoulder => "shoulder",
        BodySite::Ribs => "rib side",
        BodySite::Thigh => "thigh",
        BodySite::Shin => "shin",
        BodySite::Ankle => "ankle and foot",
        _ => "limb",
    }
}

/// The design as pairs of what and how, in the order of the work.
#[must_use]
pub fn design(of: &Design) -> Vec<(&'static str, String)> {
    let mut said = vec![
        ("Wall", format!("{} mm", of.thickness_mm)),
        ("Gap to skin", format!("{} mm for liner and ease", of.gap_mm)),
        ("Rim", rim(of)),
        ("Ribs", ribs(of)),
        ("Vents", vents(of)),
    ];
    let fittings: Vec<String> = counted(of.fittings.iter().map(|f| fitting(&f.kind)));
    said.push(("Fittings", if fittings.is_empty() { "none".into() } else { fittings.join("; ") }));
    if !of.marks.is_empty() {
        let mark = |m: &shell::Mark| {
            let how = if m.relief_mm < 0.0 { "sunk" } else { "raised" };
            format!("“{}” {} mm high, {how} {} mm", m.text, m.height_mm, m.relief_mm.abs())
        };
        said.push(("Marks", of.marks.iter().map(mark).collect::<Vec<_>>().join("; ")));
    }
    said
}

fn rim(of: &Design) -> String {
    let round = if of.rim.round_mm > 0.0 { format!("rounded {} mm", of.rim.round_mm) } else { "square".into() };
    if of.rim.flare_mm > 0.0 {
        format!("{round}, lifted {} mm off the skin over {} mm", of.rim.flare_mm, of.rim.flare_width_mm)
    } else {
        round
    }
}

fn ribs(of: &Design) -> String {
    let Some(ribs) = of.ribs else { return "none".into() };
    let layout = match ribs.layout {
        RibLayout::Along => "along the limb",
        RibLayout::Around => "around the limb",
        RibLayout::Crossed => "crossed",
        RibLayout::Branching => "branching from the loaded spot",
    };
    format!("{layout}, {} mm high, {} mm wide, every {} mm", ribs.height_mm, ribs.width_mm, ribs.spacing_mm)
}

fn vents(of: &Design) -> String {
    let Some(vents) = of.vents else { return "none".into() };
    let kind = match vents.kind {
        VentKind::Round => "round",
        VentKind::Slot => "long slots",
        VentKind::Honeycomb => "honeycomb",
        VentKind::Cells => "free-form cells",
    };
    format!(
        "{kind}, {} mm across, at least {} mm of wall between them and {} mm to the rim",
        vents.size_mm, vents.ligament_mm, vents.rim_distance_mm
    )
}

fn fitting(kind: &FittingKind) -> String {
    match kind {
        FittingKind::StrapSlot { strap_mm, .. } => format!("slot for a {strap_mm} mm strap"),
        FittingKind::LaceHoles { count, hole_mm, .. } => format!("row of {count} lace holes of {hole_mm} mm"),
        FittingKind::TieSlot { tie_mm, .. } => format!("pair of slots for a {tie_mm} mm tie"),
        FittingKind::StitchHoles { hole_mm, pitch_mm, .. } => {
            format!("{hole_mm} mm stitch holes along the rim every {pitch_mm} mm")
        }
        FittingKind::HookAndLoopSeat { length_mm, width_mm, .. } => {
            format!("seat for {length_mm} × {width_mm} mm hook-and-loop")
        }
        _ => "fitting".into(),
    }
}

/// Equal things once, with how many there are, in the order of their first.
fn counted(things: impl Iterator<Item = String>) -> Vec<String> {
    let mut counts: Vec<(String, usize)> = Vec::new();
    for thing in things {
        match counts.iter_mut().find(|(known, _)| *known == thing) {
            Some((_, n)) => *n += 1,
            None => counts.push((thing, 1)),
        }
    }
    counts.into_iter().map(|(thing, n)| if n > 1 { format!("{n} × {thing}") } else { thing }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;
    use shell::Fitting;

    #[test]
    fn a_design_is_told_with_equal_fittings_counted() {
        let strap = Fitting {
            kind: FittingKind::StrapSlot { strap_mm: 38.0, opening_mm: 4.0 },
            at_mm: Point3::origin(),
            turn_deg: 0.0,
        };
        let seat = FittingKind::HookAndLoopSeat { length_mm: 40.0, width_mm: 25.5, depth_mm: 1.0 };
        let fittings = vec![strap.clone(), Fitting { kind: seat, ..strap.clone() }, strap];
        let said = design(&Design { fittings, ..Design::default() });
        let of = |what| said.iter().find(|(label, _)| *label == what).map(|(_, text)| text.as_str());
        assert_eq!(of("Fittings"), Some("2 × slot for a 38 mm strap; seat for 40 × 25.5 mm hook-and-loop"));
        assert_eq!(of("Rim"), Some("rounded 1.2 mm, lifted 1.5 mm off the skin over 8 mm"));
        assert_eq!(of("Ribs"), Some("none"));
        assert_eq!(of("Marks"), None);
    }
}
