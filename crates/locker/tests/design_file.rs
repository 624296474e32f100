//! Design files: round trips, refusals with their place, and damage that must never panic.
#![allow(clippy::unwrap_used)]

use locker::{
    Appearance, Art, Artwork, DesignFile, Finish, Laid, LockerError, PatternKind, parse_design, save_design,
    write_design,
};
use proptest::prelude::*;
use proptest::strategy::ValueTree;

const SMALL: &str = r#"{
  "pauldron_design": 1,
  "site": "forearm",
  "side": "left",
  "scan": { "file": { "sha256": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", "bytes": 3 } },
  "placement": {
    "unit_mm": 1.0,
    "pose": { "rotation": [0.0, 0.0, 0.0, 1.0], "translation": [0.0, 0.0, 0.0] },
    "mirrored": false
  },
  "shell": {
    "thickness_mm": 2.5,
    "vents": { "kind": "round", "size_mm": 6, "ligament_mm": 3, "rim_distance_mm": 8, "seed": 1 }
  }
}
"#;

fn small() -> DesignFile {
    parse_design(SMALL, "small.json").unwrap()
}

fn refusal(from: &str, to: &str) -> String {
    assert!(SMALL.contains(from), "{from}");
    parse_design(&SMALL.replacen(from, to, 1), "mine.json").unwrap_err().to_string()
}

#[test]
fn what_is_left_out_takes_its_default() {
    let design = small();
    assert_eq!((design.resolution_mm, design.tolerance_mm), (0.5, 0.02));
    assert_eq!(design.material, mechanics::Family::SemiRigid);
    assert_eq!(design.shell.gap_mm, shell::Design::default().gap_mm);
    assert_eq!(design.squad_number, None);
}

#[test]
fn refusals_name_line_column_field_and_what_is_allowed() {
    let row = SMALL.lines().position(|row| row.contains("size_mm")).unwrap();
    let column = SMALL.lines().nth(row).unwrap().find("6, ").unwrap() + 1;
    assert_eq!(
        refusal("\"size_mm\": 6", "\"size_mm\": 60"),
        format!(
            "mine.json, line {}, column {column}: shell.vents.size_mm is 60, but must be between 2 and 25 mm.",
            row + 1
        )
    );
    let unknown = refusal("\"thickness_mm\"", "\"thicknes_mm\"");
    assert!(unknown.starts_with("mine.json, line 12, column"), "{unknown}");
    assert!(
        unknown.contains("at shell.thicknes_mm: unknown field `thicknes_mm`, expected `thickness_mm`"),
        "{unknown}"
    );
    let kind = refusal("\"round\"", "\"square\"");
    assert!(kind.contains("line 13") && kind.contains("shell.vents.kind") && kind.contains("`honeycomb`"), "{kind}");
    let text = refusal("2.5", "\"thick\"");
    assert!(text.contains("line 12") && text.contains("shell.thickness_mm: found the text"), "{text}");
    let turn = refusal("[0.0, 0.0, 0.0, 1.0]", "[0.0, 0.0, 0.0, 2.0]");
    assert!(turn.contains("line 8, column 27") && turn.contains("placement.pose.rotation"), "{turn}");
    let hash = refusal("ba7816", "BA7816");
    assert!(hash.contains("scan.file.sha256") && hash.contains("64 lower-case hexadecimal"), "{hash}");
    let comma = refusal("\"side\": \"left\",", "\"side\": \"left\"");
    assert!(comma.contains("line 5, column 3") && comma.contains("expected `,` or `}`"), "{comma}");
    let missing = refusal("\"side\": \"left\",", "");
    assert!(missing.contains("missing field `side`"), "{missing}");
}

#[test]
fn newer_files_and_other_json_are_refused_in_words() {
    let newer = refusal("\"pauldron_design\": 1", "\"pauldron_design\": 3");
    assert!(newer.contains("newer Pauldron") && newer.contains("version 3"), "{newer}");
    let other = parse_design("{\"asset\": 3}", "x.json").unwrap_err();
    assert!(matches!(other, LockerError::NotADesign { .. }), "{other}");
    let word = refusal("\"pauldron_design\": 1", "\"pauldron_design\": \"one\"");
    assert!(word.contains("is \"one\", but must be a version number"), "{word}");
}

/// Version 1 took any lift over any width; what it took is read, and can be made.
#[test]
fn a_file_of_version_1_is_brought_up_to_date() {
    let steep = r#""thickness_mm": 2.5, "rim": { "flare_mm": 10, "flare_width_mm": 8 }"#;
    let old = SMALL.replacen("\"thickness_mm\": 2.5", steep, 1);
    let design = parse_design(&old, "old.json").unwrap();
    assert_eq!((design.pauldron_design, design.shell.rim.flare_mm, design.shell.rim.flare_width_mm), (2, 10.0, 20.0));
    assert_eq!(design.shell.check(), Ok(()));
    let vents = design.shell.vents.unwrap();
    assert_eq!((vents.grade_percent, vents.open_percent), (0.0, None));
    let again = parse_design(&write_design(&design).unwrap(), "new.json").unwrap();
    assert_eq!(again, design);
    let new = old.replacen("\"pauldron_design\": 1", "\"pauldron_design\": 2", 1);
    let refused = parse_design(&new, "new.json").unwrap_err().to_string();
    assert!(
        refused.contains("rim.flare_width_mm is 8, but must be at least 20 mm, twice the lift of 10 mm"),
        "{refused}"
    );
}

#[test]
fn saved_files_are_read_back_and_numbers_stand_on_one_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("guard.json");
    let mut design = small();
    design.title = "Forearm guard, number 7".into();
    save_design(&design, &path).unwrap();
    assert_eq!(locker::load_design(&path).unwrap(), design);
    let text = std::fs::read_to_string(&path).unwrap();
    assert!(text.contains("\"rotation\": [0.0, 0.0, 0.0, 1.0]"), "{text}");
    design.shell.gap_mm = f32::INFINITY;
    assert!(save_design(&design, &path).unwrap_err().to_string().contains("shell.gap_mm is inf"));
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text, "a refused save leaves the file as it was");
}

fn point() -> impl Strategy<Value = nalgebra::Point3<f32>> {
    prop::array::uniform3(-300.0_f32..300.0).prop_map(nalgebra::Point3::from)
}

prop_compose! {
    fn look()(
        colour in any::<[u8; 3]>(),
        finish in prop::sample::select(vec![Finish::Matt, Finish::Satin, Finish::Gloss]),
        picture in prop::option::of(prop::collection::vec(any::<u8>(), 0..50)),
        kind in prop::sample::select(
            vec![PatternKind::Stripes, PatternKind::Dots, PatternKind::Chevrons, PatternKind::Waves],
        ),
        round in any::<bool>(),
        front_deg in -360.0_f32..360.0,
        width_mm in 4.0_f32..500.0,
        shift_mm in prop::array::uniform2(-500.0_f32..500.0),
    ) -> Appearance {
        let art = match picture {
            Some(bytes) => Art::Picture(locker::keep_picture(&bytes)),
            None => Art::Pattern { kind, colour },
        };
        let laid = if round { Laid::Round } else { Laid::Flat };
        Appearance { colour, finish, inlay_colour: [30, 42, 68], artwork: Some(Artwork { art, laid, front_deg, width_mm, shift_mm }) }
    }
}

#[test]
fn looks_out_of_range_are_refused_and_pictures_come_back() {
    let with = |look: &str| {
        let text = SMALL.replacen("\"side\": \"left\",", &format!("\"side\": \"left\", \"look\": {look},"), 1);
        parse_design(&text, "mine.json")
    };
    let plain = with("{\"finish\": \"gloss\"}").unwrap().look.unwrap();
    assert_eq!((plain.finish, plain.colour), (Finish::Gloss, Appearance::default().colour));
    let artwork = |art: &str, width: f32| {
        format!(
            "{{\"artwork\": {{\"art\": {art}, \"laid\": \"round\", \"front_deg\": 0, \"width_mm\": {width}, \
             \"shift_mm\": [0, 0]}}}}"
        )
    };
    let dots = "{\"pattern\": {\"kind\": \"dots\", \"colour\": [1, 2, 3]}}";
    assert!(with(&artwork(dots, 20.0)).is_ok());
    let narrow = with(&artwork(dots, 3.0)).unwrap_err().to_string();
    assert!(narrow.contains("look.artwork.width_mm is 3, but must be between 4 and 500 mm"), "{narrow}");
    let hash = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    let picture = |inside: &str| format!("{{\"picture\": {{\"sha256\": \"{hash}\", \"bytes\": 3{inside}}}}}");
    let outside = with(&artwork(&picture(""), 20.0)).unwrap_err().to_string();
    assert!(outside.contains("look.artwork.art.picture.inside"), "{outside}");
    let look = with(&artwork(&picture(", \"inside\": \"YWJj\""), 20.0)).unwrap().look.unwrap();
    let Some(Artwork { art: Art::Picture(kept), .. }) = look.artwork else { panic!("a picture") };
    assert_eq!(locker::load_picture(&kept).unwrap(), b"abc");
}

prop_compose! {
    fn design()(
        title in "[ -~]{0,80}",
        number in prop::option::of(0_u32..10_000),
        gap_mm in 0.0_f32..20.0,
        thickness_mm in 3.0_f32..10.0,
        points in prop::collection::vec(point(), 3..30),
        at_mm in point(),
        strap_mm in 8.0_f32..120.0,
        resolution_mm in 0.2_f32..3.0,
        unit in prop::sample::select(vec![0.001, 1.0, 25.4, 1000.0]),
        turn in prop::array::uniform3(-3.0_f64..3.0),
        shift in prop::array::uniform3(-500.0_f64..500.0),
        seed in any::<u64>(),
        look in prop::option::of(look()),
    ) -> DesignFile {
        let mut design = small();
        design.title = title;
        design.squad_number = number;
        design.shell.gap_mm = gap_mm;
        design.shell.thickness_mm = thickness_mm;
        design.shell.vents.as_mut().unwrap().seed = seed;
        design.shell.fittings.push(shell::Fitting {
            kind: shell::FittingKind::StrapSlot { strap_mm, opening_mm: 4.0 },
            at_mm,
            turn_deg: 12.5,
            follows: false,
        });
        design.zone.sources.push(zone::Source::Line { points_mm: points, inside_mm: Some(at_mm) });
        design.resolution_mm = resolution_mm;
        design.look = look;
        design.placement.unit_mm = unit;
        design.placement.pose = nalgebra::Isometry3::new(shift.into(), turn.into());
        design
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn every_design_comes_back_as_it_was(design in design()) {
        let text = write_design(&design).unwrap();
        prop_assert_eq!(parse_design(&text, "round.json").unwrap(), design);
    }

    #[test]
    fn cut_and_garbled_files_are_refused_without_panic(
        design in design(), cut in 0.0_f64..1.0, place in 0.0_f64..1.0, letter in any::<char>(),
    ) {
        let text = write_design(&design).unwrap();
        let at = |share: f64| text.char_indices().nth((share * text.chars().count() as f64) as usize).map_or(text.len(), |c| c.0);
        let end = at(cut);
        if end < text.trim_end().len() {
            prop_assert!(parse_design(&text[..end], "cut.json").is_err());
        }
        let middle = at(place);
        let mut garbled = text.clone();
        garbled.insert(middle, letter);
        // It may still be valid, as with a letter in the title; it only must not panic.
        let _ = parse_design(&garbled, "garbled.json").map_err(|e| e.to_string());
    }
}

/// Every field and keyword of a design is in the page that describes the format.
#[test]
fn the_page_names_every_field() {
    let page = include_str!("../DESIGN_FILE.md");
    let mut names = std::collections::BTreeSet::new();
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    for _ in 0..64 {
        let design = design().new_tree(&mut runner).unwrap().current();
        collect_names(&serde_json::to_value(&design).unwrap(), &mut names);
    }
    assert!(names.len() > 40, "{names:?}");
    let missing: Vec<_> = names.iter().filter(|name| !page.contains(name.as_str())).collect();
    assert!(missing.is_empty(), "DESIGN_FILE.md does not name {missing:?}");
}

/// Every range in the page is the shell's own.
#[test]
fn the_page_gives_every_range() {
    let page = include_str!("../DESIGN_FILE.md");
    for limit in shell::limits::ALL {
        let name = format!("| `{}` |", limit.field);
        let row = page.lines().find(|row| row.starts_with(&name)).unwrap_or_else(|| panic!("no row for {name}"));
        let range = format!("| {} to {}", limit.least, limit.most).replace('-', "−");
        let said = row.split_once(&range).unwrap_or_else(|| panic!("{row} does not say {range}")).1;
        assert!(said.starts_with([',', ' ']), "{row}");
    }
}

fn collect_names(value: &serde_json::Value, names: &mut std::collections::BTreeSet<String>) {
    match value {
        serde_json::Value::Object(fields) => {
            for (name, inner) in fields {
                names.insert(name.clone());
                collect_names(inner, names);
            }
        }
        serde_json::Value::Array(items) => items.iter().for_each(|item| collect_names(item, names)),
        _ => {}
    }
}
