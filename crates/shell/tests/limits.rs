//! One list of limits, kept by the check of a design, by what places things on the skin, and by the comments on the
//! fields.
#![allow(clippy::unwrap_used)]

use mesh::{Job, Surface};
use nalgebra::Point3;
use proptest::prelude::*;
use serde_json::{Value, json};
use shell::limits::{self, Limit};
use shell::{Design, DesignItem, Fitting, FittingKind, Layout, Rim, ShellError, fitting, pattern};
use test_shapes::{Diagonals, Wrap, grid};
use zone::{Region, Zone};

const HALF_MM: f32 = 150.0;

/// A flat square facing −y, and a zone over all of it but 5 mm along its border.
fn flat() -> (Surface, Zone) {
    let span = 2.0 * (f64::from(HALF_MM) + 5.0);
    let skin: Surface =
        grid(180, 180, Wrap::None, Diagonals::Alike, |u, v| [(u - 0.5) * span, 0.0, (v - 0.5) * span]).build();
    let distance_mm = skin.mesh().points.iter().map(|p| HALF_MM - p.x.abs().max(p.z.abs())).collect();
    let corners = [[-HALF_MM, -HALF_MM], [HALF_MM, -HALF_MM], [HALF_MM, HALF_MM], [-HALF_MM, HALF_MM]];
    let edge = corners.map(|[x, z]| Point3::new(x, 0.0, z)).to_vec();
    (skin, Zone { covered: Region { distance_mm, edges: vec![edge] }, ..Zone::default() })
}

fn place(skin: &Surface, zone: &Zone, design: &Design) -> Result<Layout, ShellError> {
    let mut layout = Layout::default();
    fitting::place_fittings(skin, zone, design, &mut layout, &Job::silent())?;
    fitting::place_marks(skin, zone, design, &mut layout, &Job::silent())?;
    fitting::place_pictures(skin, zone, design, &mut layout, &Job::silent())?;
    pattern::place_ribs(skin, zone, design, &mut layout, &Job::silent())?;
    fitting::place_stitch_holes(skin, zone, design, &mut layout, &Job::silent())?;
    pattern::place_vents(skin, zone, design, &mut layout, &Job::silent())?;
    Ok(layout)
}

/// A number in its range: one of its ends, or anything between.
fn in_range(limit: Limit) -> impl Strategy<Value = f32> {
    prop_oneof![2 => Just(limit.least), 1 => Just(limit.most), 5 => limit.least..=limit.most]
}

/// Any kind of fitting, its numbers in their ranges.
fn kinds() -> impl Strategy<Value = FittingKind> {
    let strap = (in_range(limits::STRAP), in_range(limits::STRAP_OPENING))
        .prop_map(|(strap_mm, opening_mm)| FittingKind::StrapSlot { strap_mm, opening_mm });
    let lace = (1_u32..=40, in_range(limits::LACE_HOLE), in_range(limits::LACE_PITCH)).prop_map(
        |(count, hole_mm, pitch_mm)| {
            let pitch_mm = pitch_mm.max(limits::least_lace_pitch_mm(hole_mm));
            FittingKind::LaceHoles { count, hole_mm, pitch_mm }
        },
    );
    let tie = (in_range(limits::TIE), in_range(limits::TIE_BRIDGE))
        .prop_map(|(tie_mm, bridge_mm)| FittingKind::TieSlot { tie_mm, bridge_mm });
    let stitch = (in_range(limits::STITCH_HOLE), in_range(limits::STITCH_PITCH), in_range(limits::STITCH_INSET))
        .prop_map(|(hole_mm, pitch_mm, inset_mm)| {
            let pitch_mm = pitch_mm.max(limits::least_stitch_pitch_mm(hole_mm));
            FittingKind::StitchHoles { hole_mm, pitch_mm, inset_mm }
        });
    let seat = (in_range(limits::SEAT_LENGTH), in_range(limits::SEAT_WIDTH), in_range(limits::SEAT_DEPTH))
        .prop_map(|(length_mm, width_mm, depth_mm)| FittingKind::HookAndLoopSeat { length_mm, width_mm, depth_mm });
    prop_oneof![strap, lace, tie, stitch, seat]
}

/// Half the length and half the height of a fitting as drawn, from its sizes alone, mm.
fn extent(kind: &FittingKind) -> [f32; 2] {
    match kind {
        FittingKind::StrapSlot { strap_mm, opening_mm } => [0.5 * strap_mm + 1.0, 0.5 * opening_mm],
        FittingKind::LaceHoles { count, hole_mm, pitch_mm } => {
            [0.5 * ((*count as f32 - 1.0) * pitch_mm + hole_mm), 0.5 * hole_mm]
        }
        FittingKind::TieSlot { tie_mm, bridge_mm } => [0.5 * tie_mm + 0.5, 0.5 * bridge_mm + 2.5],
        FittingKind::HookAndLoopSeat { length_mm, width_mm, .. } => [0.5 * length_mm, 0.5 * width_mm],
        _ => [0.0; 2],
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// What the check lets through is never refused for its values: on a flat skin with room it is always placed.
    #[test]
    fn fittings_that_pass_the_check_are_placed_where_there_is_room(
        kind in kinds(), thickness_mm in in_range(limits::THICKNESS), full in 0.0_f32..=1.0, turn_deg in -360.0_f32..=360.0,
    ) {
        thread_local!(static FLAT: (Surface, Zone) = flat());
        let round_mm = (0.5 * thickness_mm * full).min(limits::ROUND.most);
        let at_mm = if matches!(kind, FittingKind::StitchHoles { .. }) {
            Point3::new(HALF_MM, 0.0, 0.0)
        } else {
            Point3::origin()
        };
        let design = Design {
            thickness_mm,
            rim: Rim { round_mm, ..Rim::default() },
            fittings: vec![Fitting { kind: kind.clone(), at_mm, turn_deg, follows: false }],
            ..Design::default()
        };
        let [long, high] = extent(&kind);
        let reach = long.hypot(high) + 5.0_f32.max(limits::rim_wall_mm(&design));
        if reach > HALF_MM {
            return Ok(());
        }
        let placed = FLAT.with(|(skin, zone)| place(skin, zone, &design));
        match design.check() {
            Ok(()) => {
                let placed = placed.map_err(|error| TestCaseError::fail(error.to_string()))?;
                let parts = placed.openings.iter().map(|c| c.item).chain(placed.embosses.iter().map(|e| e.item));
                prop_assert!(parts.filter(|s| *s == DesignItem::Fitting(0)).count() > 0);
            }
            Err(wrong) => match placed {
                Err(ShellError::CannotBuild { setting, .. }) => prop_assert_eq!(setting, format!("shell.{}", wrong.field)),
                other => prop_assert!(false, "{wrong}, but placing it gave {other:?}"),
            },
        }
    }
}

/// A design with everything that has a number.
fn everything() -> Value {
    let fittings = [
        json!({ "strap-slot": { "strap_mm": 25.0, "opening_mm": 4.0 } }),
        json!({ "lace-holes": { "count": 2, "hole_mm": 4.0, "pitch_mm": 10.0 } }),
        json!({ "tie-slot": { "tie_mm": 5.0, "bridge_mm": 6.0 } }),
        json!({ "stitch-holes": { "hole_mm": 2.0, "pitch_mm": 8.0, "inset_mm": 6.0 } }),
        json!({ "hook-and-loop-seat": { "length_mm": 20.0, "width_mm": 20.0, "depth_mm": 0.8 } }),
    ];
    // Far enough apart for each other, one beside the next.
    let fittings: Vec<Value> = fittings
        .into_iter()
        .enumerate()
        .map(|(n, kind)| json!({ "kind": kind, "at_mm": [-100.0 + 45.0 * n as f32, 0.0, 0.0], "turn_deg": 0.0 }))
        .collect();
    json!({
        "gap_mm": 3.0, "thickness_mm": 3.0,
        "rim": { "round_mm": 1.0, "flare_mm": 1.0, "flare_width_mm": 8.0 },
        "ribs": { "layout": "along", "height_mm": 2.0, "width_mm": 4.0, "spacing_mm": 60.0 },
        "vents": { "kind": "round", "size_mm": 8.0, "ligament_mm": 4.0, "rim_distance_mm": 8.0, "seed": 1 },
        "fittings": fittings,
        "marks": [{ "text": "7", "height_mm": 20.0, "relief_mm": 0.8, "at_mm": [0.0, 0.0, 60.0], "turn_deg": 0.0 }],
        "pictures": [{
            "name": "two", "width_mm": 20.0, "relief_mm": 0.8, "at_mm": [0.0, 0.0, -60.0], "turn_deg": 0.0,
            "tones": { "columns": 2, "values": "/wADBA==" },
        }],
        "strap_pull_n": 60.0,
    })
}

/// The design with the number at a limit's field changed, and the path of that field.
fn with(limit: &Limit, value: f32) -> (Design, String) {
    let mut design = everything();
    let (mut at, mut path) = (&mut design, String::new());
    for part in limit.field.split('.') {
        let (name, lists) = (part.trim_end_matches("[]"), part.matches("[]").count());
        path += &format!("{}{name}", if path.is_empty() { "" } else { "." });
        at = &mut at[name];
        for _ in 0..lists {
            // The first in the list, or the first fitting of the kind.
            let kind = limit.field.split("kind.").nth(1).and_then(|rest| rest.split('.').next());
            let holds = |item: &Value| kind.is_none_or(|kind| item["kind"].get(kind).is_some());
            let n = at.as_array().unwrap().iter().position(holds).unwrap();
            path += &format!("[{n}]");
            at = &mut at[n];
        }
    }
    *at = if at.is_u64() { json!(value as u32) } else { json!(value) };
    (serde_json::from_value(design).unwrap(), path)
}

#[test]
fn a_number_out_of_its_range_is_refused_with_its_path_by_the_check_and_by_the_fittings() {
    let (skin, zone) = flat();
    let whole: Design = serde_json::from_value(everything()).unwrap();
    assert_eq!(whole.check(), Ok(()));
    place(&skin, &zone, &whole).unwrap();
    for limit in limits::ALL {
        let beyond = if limit.unit.is_empty() { 1.0 } else { 0.01 * (limit.most - limit.least) };
        for value in [limit.least - beyond, limit.most + beyond] {
            let (design, path) = with(limit, value);
            let wrong = design.check().unwrap_err();
            assert_eq!(wrong.field, path, "{value}");
            assert!(wrong.allowed.contains(&limit.least.to_string()), "{wrong}");
            // Gap, wall and rim are nothing that is placed.
            if ["fittings", "marks", "pictures", "ribs", "vents"].iter().any(|placed| limit.field.starts_with(placed)) {
                let refused = place(&skin, &zone, &design).unwrap_err().to_string();
                assert!(refused.starts_with(&format!("shell.{path}: ")), "{path}: {refused}");
            }
            let built = shell::build(&skin, &zone, &design, &shell::Quality::default(), &Job::silent());
            let refused = built.unwrap_err().to_string();
            assert!(refused.starts_with(&format!("shell.{path}: ")), "{path}: {refused}");
        }
    }
}

#[test]
fn the_comments_on_the_fields_give_the_same_ranges() {
    let source = include_str!("../src/design.rs");
    for limit in limits::ALL {
        let name = limit.field.trim_end_matches("[]").rsplit('.').next().unwrap();
        // Inside the type, or the kind of fitting, that holds the field.
        let holder = match limit.field.rsplit('.').nth(1) {
            None => "struct Design".to_owned(),
            Some("fittings[]") => "struct Fitting ".to_owned(),
            Some("marks[]") => "struct Mark".to_owned(),
            Some("pictures[]") => "struct Picture".to_owned(),
            Some(part) if limit.field.contains("kind.") => {
                let words = part.split('-').map(|w| w[..1].to_uppercase() + &w[1..]);
                format!("    {} {{", words.collect::<String>())
            }
            Some(part) => format!("struct {} ", part[..1].to_uppercase() + &part[1..]),
        };
        let inside = &source[source.find(&holder).unwrap_or_else(|| panic!("no {holder}"))..];
        let before = inside.split(&format!(" {name}: ")).next().unwrap();
        let comment: Vec<&str> = before
            .lines()
            .rev()
            .skip(1)
            .take_while(|l| l.trim().starts_with("///") || l.trim().starts_with('#'))
            .collect();
        let said = comment.join("\n");
        let range = format!("{} to {}", limit.least, limit.most).replace('-', "−");
        assert!(said.contains(&range), "{}: \"{said}\" does not say {range}", limit.field);
    }
}
