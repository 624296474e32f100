//! What the panels say: warnings beside the setting that they are about, the printer asked for once, one colour of the
//! shell.

use bevy::prelude::KeyCode;
use scan::BodySite;

use crate::sitting::{Sitting, demo_scan};

const CTRL_SHIFT: &[KeyCode] = &[KeyCode::ControlLeft, KeyCode::ShiftLeft];

/// Where the panel begins in a window 1280 wide.
const PANEL_LEFT: f32 = 1280.0 - 348.0;

/// Where the first text that begins so stands, from the top of the window.
fn top_of(sitting: &Sitting, begins: &str) -> Option<f32> {
    sitting.trial.texts().iter().find(|text| text.text.starts_with(begins)).map(|text| text.field[1])
}

#[test]
fn doubts_stand_where_the_doubtful_thing_is_set() {
    let mut sitting = Sitting::with_shell_in([1280, 4200]);
    assert_eq!(top_of(&sitting, "A gap of 0 mm"), None);
    sitting.trial.session().edit("gap", |design| design.shell.gap_mm = 0.0);
    sitting.rests();
    sitting.steady();
    let [gap, said, rim] = ["Gap to the skin", "A gap of 0 mm", "Rim"].map(|text| top_of(&sitting, text).expect(text));
    assert!(gap < said && said < rim, "below its slider: {gap} {said} {rim}");
    sitting.trial.press(&[], KeyCode::Digit1);
    sitting.steady();
    assert_eq!(top_of(&sitting, "The squad number"), None);
    sitting.trial.session().edit("number", |design| session::about::set_number(design, Some(1007)));
    sitting.steady();
    let [number, said, title] =
        ["Squad number", "The squad number 1007", "Title"].map(|text| top_of(&sitting, text).expect(text));
    assert!(number < said && said < title, "below its field: {number} {said} {title}");
}

/// A shoulder does not have the size of a forearm, and the panel says so where the site is chosen.
#[test]
fn a_site_that_the_size_speaks_against_is_doubted_where_it_is_chosen() {
    let mut sitting = Sitting::with(&demo_scan("shoulder-19.ply"), BodySite::Forearm);
    sitting.steady();
    let limb = sitting.trial.session().derived().limb.value().expect("a limb").clone();
    let doubt = limb.report.warnings.iter().find(|w| matches!(w, scan::ScanWarning::Site(_)));
    let doubt = doubt.expect("a doubt").to_string();
    // The line below the stage may say it as well.
    let in_panel = sitting.trial.texts().iter().filter(|text| text.field[0] > PANEL_LEFT);
    let said: Vec<f32> = in_panel.filter(|text| text.text == doubt).map(|text| text.field[1]).collect();
    let [site, number] = ["Forearm", "Squad number"].map(|text| top_of(&sitting, text).expect(text));
    assert!(said.len() == 1 && site < said[0] && said[0] < number, "once, below the site: {site} {said:?} {number}");
}

/// A unit in which the limb would be as large as a house.
#[test]
fn a_change_that_cannot_be_made_is_said_and_the_limb_stays() {
    let mut sitting = Sitting::with_in(&demo_scan("shin-23.obj"), BodySite::Shin, [1280, 3000]);
    let before = sitting.trial.session().derived().limb.serial();
    sitting.trial.session().edit("unit of the scan", |design| design.clean.unit = Some(scan::Unit::M));
    sitting.rests();
    sitting.steady();
    let limb = &sitting.trial.session().derived().limb;
    assert_eq!(limb.serial(), before);
    let why = session::capitalised(&limb.problem().expect("a refusal").sentence);
    assert!(top_of(&sitting, &why).is_some(), "{why}");
    assert!(top_of(&sitting, "The limb is as before").is_some());
}

#[test]
fn the_printer_is_asked_for_once_and_until_then_the_fit_counts_as_not_checked() {
    let mut sitting = Sitting::with_shell_in([1280, 2400]);
    sitting.trial.press(&[], KeyCode::Digit6);
    sitting.rests();
    sitting.steady();
    let unchecked = "It has not been checked whether the guard fits your printer.";
    assert!(top_of(&sitting, unchecked).is_some());
    assert!(["Width, mm", "Depth, mm", "Height, mm"].iter().all(|side| top_of(&sitting, side).is_some()));
    let mut say = |sides: [&str; 3]| {
        let asked = sitting.trial.view().print.asked_bed.as_mut().expect("it is asked");
        asked.typed = sides.map(str::to_owned);
        sitting.trial.press(CTRL_SHIFT, KeyCode::KeyD);
        sitting.rests();
        sitting.steady();
        let known = sitting.trial.session().preferences.known_bed_mm();
        (known, top_of(&sitting, "The depth must be").is_some(), top_of(&sitting, unchecked).is_some())
    };
    assert_eq!(say(["300", "0", "400"]), (None, true, true), "what will not do is refused in words");
    assert_eq!(say(["300", "300", "400"]), (Some([300.0, 300.0, 400.0]), false, false));
    sitting.until("how it lies", |trial| trial.on_bed().is_some());
    assert!(sitting.trial.on_bed().is_some_and(|laid| laid.fits()));
    let kept = std::fs::read_to_string(sitting.folder.path().join("settings/preferences.json")).expect("preferences");
    assert!(kept.contains("300.0"), "{kept}");
    assert!(top_of(&sitting, "Width, mm").is_none(), "it is not asked again");
}

/// What the athlete chose is seen from the shell step on; a starting point changes the filament and not the colour.
#[test]
fn the_shell_has_one_colour_from_shell_to_show() {
    let mut sitting = Sitting::with_shell();
    let own = locker::Appearance::default().colour;
    let is = |sitting: &mut Sitting, colour: [u8; 3]| {
        sitting.until("the colour", |trial| {
            let all = trial.shell_colours();
            !all.is_empty() && all.iter().all(|one| *one == colour)
        });
    };
    is(&mut sitting, own);
    let before = sitting.design().material;
    sitting.trial.press(&[], KeyCode::F7);
    sitting.rests();
    assert_ne!(sitting.design().material, before, "cushioning takes another filament");
    assert_eq!(sitting.trial.shell_colours().first(), Some(&own));
    let red = [200, 30, 40];
    sitting.trial.session().edit("look", |design| design.look.get_or_insert_default().colour = red);
    is(&mut sitting, red);
    for step in [KeyCode::Digit4, KeyCode::Digit5, KeyCode::Digit6] {
        sitting.trial.press(&[], step);
        sitting.rests();
        is(&mut sitting, red);
    }
}

/// A scan without colours can have no pen line, and nothing in the window suggests that it has.
#[test]
fn where_there_is_no_pen_line_none_is_spoken_of() {
    let mut sitting = Sitting::with(&demo_scan("forearm-16.stl"), BodySite::Forearm);
    sitting.trial.press(&[], KeyCode::Digit2);
    sitting.trial.press(&[], KeyCode::KeyP);
    let said = sitting.trial.said().expect("an answer").to_owned();
    assert!(said.starts_with("No pen line: the scan has no colours") && said.contains("by hand"), "{said}");
    assert!(sitting.design().zone.sources.is_empty());
    // When the message has gone, the line below guides again.
    sitting.until("guidance", |trial| trial.texts().iter().any(|text| text.text.starts_with("Paint or outline")));
    sitting.steady();
    let texts = sitting.trial.texts().iter().map(|text| text.text.as_str());
    let of_line: Vec<&str> = texts.filter(|text| text.to_lowercase().contains("pen line")).collect();
    assert_eq!(of_line, [said.as_str()], "only that there is none");
}

/// The demo opens half painted; the guidance follows what is then painted.
#[test]
fn the_guidance_knows_when_the_whole_zone_is_painted() {
    let mut sitting = Sitting::begin();
    sitting.trial.press(&[], KeyCode::F2);
    sitting.until("the demo", |trial| trial.session().derived().sketch.value().is_some());
    sitting.rests();
    let says = |trial: &workbench::Trial, part: &str| trial.texts().iter().any(|text| text.text.contains(part));
    sitting.until("guidance", |trial| says(trial, "Half of the zone is painted"));
    let found = sitting.trial.session().derived().pen.value().expect("searched").clone();
    let scan::pen::PenFinding::Closed(line) = &*found else { panic!("the demo has a closed pen line") };
    let paint = |share: usize| -> Vec<zone::Dab> {
        let all = line.centre.iter().take(line.centre.len() / share);
        all.map(|at_mm| zone::Dab { at_mm: *at_mm, radius_mm: 6.0, remove: false }).collect()
    };
    let edit = |sitting: &mut Sitting, dabs: &[zone::Dab]| {
        sitting.trial.session().edit("paint", |design| {
            session::marking::add_dabs(&mut design.zone, session::marking::Target::Zone, dabs);
        });
        sitting.rests();
    };
    edit(&mut sitting, &paint(1));
    sitting.until("other guidance", |trial| says(trial, "The zone is marked up to the pen line"));
    assert!(!says(&sitting.trial, "Half of the zone"));
    sitting.trial.undo();
    sitting.until("the first guidance", |trial| says(trial, "Half of the zone is painted"));
}

/// All files of a guard are listed by name, those for the printer first; the names carry number, site and side.
#[test]
fn saved_files_are_listed_whole_and_say_which_go_to_the_printer() {
    let mut sitting = Sitting::with_shell_in([1280, 3000]);
    sitting.trial.session().edit("about", |design| {
        design.title = "Somebody's guard".to_owned();
        session::about::set_number(design, Some(16));
    });
    let folder = sitting.folder.path().join("prints");
    sitting.trial.press(&[], KeyCode::Digit6);
    sitting.trial.session().export(&folder, None);
    let heading = "For the printer, any one of these:";
    sitting.until("the files", |trial| trial.texts().iter().any(|text| text.text == heading));
    sitting.steady();
    // The scan that belongs to the design lies in a folder of its own.
    let made = std::fs::read_dir(&folder).expect("a folder").map(|entry| entry.expect("a file"));
    let made = made.filter(|entry| entry.path().is_file());
    let mut made: Vec<String> = made.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    made.sort();
    assert!(made.len() > 4, "{made:?}");
    let [printer, rest] = [heading, "To keep with the guard:"].map(|text| top_of(&sitting, text).expect(text));
    for name in &made {
        assert!(name.starts_with("16-shin-left") && !name.to_lowercase().contains("somebody"), "{name}");
        let at = sitting.trial.texts().iter().find(|text| text.text == *name).map(|text| text.field[1]);
        let at = at.unwrap_or_else(|| panic!("{name} is not listed"));
        let prints = name.ends_with(".stl") || name.ends_with(".3mf");
        assert_eq!(at > printer && at < rest, prints, "{name}");
    }
}

/// When a design with its ends cut is opened again, the sliders stand where they were let go.
#[test]
fn cut_ends_are_known_again_when_the_design_is_opened() {
    let mut sitting = Sitting::with_in(&demo_scan("wrist-12.ply"), BodySite::Wrist, [1280, 2400]);
    let beside = |trial: &workbench::Trial, name: &str| {
        let line = trial.texts().iter().find(|text| text.text == name)?.middle()[1];
        let figure = trial.texts().iter().find(|text| {
            (text.middle()[1] - line).abs() < 6.0 && text.field[0] > PANEL_LEFT && text.text.parse::<f32>().is_ok()
        });
        figure.map(|text| text.text.clone())
    };
    sitting.trial.press(&[], KeyCode::Home);
    sitting.trial.press(&[], KeyCode::Home);
    sitting.rests();
    sitting.until("the cut", |trial| beside(trial, "Upper end").as_deref() == Some("10"));
    let saved = sitting.folder.path().join("guard.json");
    sitting.trial.session().save_as(&saved);
    sitting.until("saving", |trial| !trial.session().is_saving());
    sitting.trial.session().open(&demo_scan("ankle-31.ply"), BodySite::Ankle, scan::Side::Left);
    sitting.until("another scan", |trial| beside(trial, "Upper end").as_deref() == Some("0"));
    sitting.trial.session().open(&saved, BodySite::Other, scan::Side::Unknown);
    sitting.until("the same cut", |trial| beside(trial, "Upper end").as_deref() == Some("10"));
    assert_eq!(beside(&sitting.trial, "Lower end").as_deref(), Some("0"));
}
