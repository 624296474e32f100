//! What the program says about a guard, in one place for the page, the report, the command line and the window.

use mechanics::MaterialRow;
use shell::{Design, FittingKind, RibLayout, VentKind};

/// A figure to two digits, where no more is known.
#[must_use]
pub fn two_digits(value: f64) -> String {
    if value >= 100.0 {
        let step = 10.0_f64.powf(value.log10().floor() - 1.0);
        format!("{:.0}", (value / step).round() * step)
    } else if value >= 9.95 {
        format!("{value:.0}")
    } else if value >= 0.995 {
        format!("{value:.1}")
    } else {
        format!("{value:.2}")
    }
}

/// A number for a sentence: with one decimal, or none where that is 0.
#[must_use]
pub fn tenths(value: impl Into<f64>) -> String {
    let text = format!("{:.1}", value.into());
    text.strip_suffix(".0").map_or_else(|| text.clone(), str::to_owned)
}

/// The first of all cautions, for where there is room for one.
pub const NOT_CERTIFIED: &str = "Not a certified protector and not a medical device: never wear it in place of a \
    certified protector that the rules ask for. All figures compare designs and filaments; none is a guarantee against \
    injury.";

/// What must be said wherever a guard is shown, made or handed over: what it is not, who decides, skin, cleaning, wear,
/// and heat in the words of its filament.
///
/// Common practice of orthotic workshops and physiotherapists, without a published source.
#[must_use]
pub fn cautions(filament: Option<&MaterialRow>) -> Vec<String> {
    let all = [
        NOT_CERTIFIED,
        "Medical staff decide whether the athlete may play with it: get that in writing, with the date. Local rules and \
         officials decide whether it may be worn: ask before the match. Many want hard parts covered with foam; some \
         forbid them at hand and forearm even when covered.",
        "Wear it for 15 to 20 minutes at first, then take it off and check the skin; check it before and after each use. \
         Stop and ask medical staff if redness lasts longer than 20 to 30 minutes, or on pain, swelling, tingling, \
         numbness or a change of colour.",
        "Never on bare skin, and over an open wound only as medical staff say. Ask first about allergies to plastic, foam, \
         glue and buckles.",
        "Clean it every day with cool water and mild soap, and line it with something that can be washed.",
        "Before each use feel the rim for sharp edges, and look for cracks and loose layers. Retire it when it is cracked, \
         after a hard blow, or when the limb has changed.",
    ];
    let heat = filament.map_or_else(
        || "Heat: plastic softens. Never leave it in a parked car, hot water or a dishwasher.".to_owned(),
        |row| format!("Heat: it is meant to be printed in {}. {}", row.name, row.heat_caution),
    );
    all.into_iter().map(str::to_owned).chain([heat]).collect()
}

/// How to print a shell. Common practice, not rules: printers differ.
#[must_use]
pub fn print_hints() -> &'static [&'static str] {
    &[
        "Print it solid (100 % infill, or walls until they meet): weights and costs here are for a solid shell.",
        "Layers are the weak direction, about half as strong. Lay the part so that a blow does not pull them apart.",
        "Layer 0.2 mm, line 0.4 to 0.5 mm, supports for overhangs over 45°. Print flexible filament slowly.",
        "Take supports off the inside with care, then smooth the rim and the inside until nothing catches on a cloth.",
        "Weigh it: far below the weight in the table means that the print has gaps.",
    ]
}

/// The design as pairs of label and text, in the order of the work.
#[must_use]
pub fn design(of: &Design) -> Vec<(&'static str, String)> {
    let mut said = vec![
        ("Wall", format!("{} mm", tenths(of.thickness_mm))),
        ("Gap to skin", format!("{} mm for liner and ease", tenths(of.gap_mm))),
        ("Rim", rim(of)),
        ("Ribs", ribs(of)),
        ("Vents", vents(of)),
    ];
    let fittings: Vec<String> = counted(of.fittings.iter().map(|f| fitting(&f.kind)));
    said.push(("Fittings", if fittings.is_empty() { "none".into() } else { fittings.join("; ") }));
    if !of.marks.is_empty() {
        let mark = |m: &shell::Mark| {
            let how = if m.relief_mm < 0.0 { "sunk" } else { "raised" };
            format!("“{}” {} mm high, {how} {} mm", m.text, tenths(m.height_mm), tenths(m.relief_mm.abs()))
        };
        said.push(("Marks", of.marks.iter().map(mark).collect::<Vec<_>>().join("; ")));
    }
    said
}

fn rim(of: &Design) -> String {
    let round = if of.rim.round_mm > 0.0 { format!("rounded {} mm", tenths(of.rim.round_mm)) } else { "square".into() };
    if of.rim.flare_mm > 0.0 {
        format!("{round}, lifted {} mm off the skin over {} mm", tenths(of.rim.flare_mm), tenths(of.rim.flare_width_mm))
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
        RibLayout::Diamond => "in diamonds",
        RibLayout::Branching => "branching from the reinforced spot",
    };
    format!(
        "{layout}, {} mm high, {} mm wide, every {} mm",
        tenths(ribs.height_mm),
        tenths(ribs.width_mm),
        tenths(ribs.spacing_mm)
    )
}

fn vents(of: &Design) -> String {
    let Some(vents) = of.vents else { return "none".into() };
    let kind = match vents.kind {
        VentKind::Round => "round",
        VentKind::Slot => "long slots",
        VentKind::Honeycomb => "honeycomb",
        VentKind::Cells => "irregular cells",
        VentKind::Lozenge => "lozenges",
        VentKind::Triangle => "triangles",
    };
    let smaller = if vents.grade_percent > 0.0 {
        format!(", {} % smaller towards the rim", tenths(vents.grade_percent))
    } else {
        String::new()
    };
    let open = vents.open_percent.map(|percent| format!(", to open {} %", tenths(percent))).unwrap_or_default();
    format!(
        "{kind}, {} mm across, at least {} mm apart, {} mm from the rim{smaller}{open}",
        tenths(vents.size_mm),
        tenths(vents.ligament_mm),
        tenths(vents.rim_distance_mm)
    )
}

fn fitting(kind: &FittingKind) -> String {
    match kind {
        FittingKind::StrapSlot { strap_mm, .. } => format!("slot for a {} mm strap", tenths(*strap_mm)),
        FittingKind::LaceHoles { count, hole_mm, .. } => {
            format!("row of {count} lace holes of {} mm", tenths(*hole_mm))
        }
        FittingKind::TieSlot { tie_mm, .. } => format!("pair of slots for a {} mm tie", tenths(*tie_mm)),
        FittingKind::StitchHoles { hole_mm, pitch_mm, .. } => {
            format!("{} mm stitch holes along the rim every {} mm", tenths(*hole_mm), tenths(*pitch_mm))
        }
        FittingKind::HookAndLoopSeat { length_mm, width_mm, .. } => {
            format!("seat for {} × {} mm hook-and-loop", tenths(*length_mm), tenths(*width_mm))
        }
        _ => "fitting".into(),
    }
}

/// Equal things once, with their number, in the order in which they first occur.
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
    fn numbers_in_sentences_have_at_most_one_decimal() {
        let told = [14.311_892_f32, 38.0, 25.5, 0.04, -1.96].map(tenths);
        assert_eq!(told, ["14.3", "38", "25.5", "0", "-2"]);
    }

    #[test]
    fn heat_is_told_of_the_filament_that_was_chosen() {
        let table = mechanics::compare(1000.0, 300.0, &mechanics::Materials::built_in());
        let all: Vec<String> = cautions(None);
        for row in &table.rows {
            let of_it = cautions(Some(row));
            assert_eq!(of_it[..of_it.len() - 1], all[..all.len() - 1]);
            let heat = of_it.last().unwrap();
            assert!(heat.contains(&row.name) && heat.ends_with(&row.heat_caution), "{heat}");
            assert!(
                table.rows.iter().all(|other| other.name == row.name || !heat.contains(&format!("in {}", other.name)))
            );
        }
    }

    #[test]
    fn a_design_is_told_with_equal_fittings_counted() {
        let strap = Fitting {
            kind: FittingKind::StrapSlot { strap_mm: 38.0, opening_mm: 4.0 },
            at_mm: Point3::origin(),
            turn_deg: 0.0,
            follows: false,
        };
        let seat = FittingKind::HookAndLoopSeat { length_mm: 40.0, width_mm: 25.5, depth_mm: 1.0 };
        let fittings = vec![strap.clone(), Fitting { kind: seat, ..strap.clone() }, strap];
        let said = design(&Design { fittings, ..Design::default() });
        let of = |what| said.iter().find(|(label, _)| *label == what).map(|(_, text)| text.as_str());
        assert_eq!(of("Fittings"), Some("2 × slot for a 38 mm strap; seat for 40 × 25.5 mm hook-and-loop"));
        assert_eq!(of("Rim"), Some("rounded 1.2 mm, lifted 1.5 mm off the skin over 18 mm"));
        assert_eq!(of("Ribs"), Some("none"));
        assert_eq!(of("Marks"), None);
    }
}
