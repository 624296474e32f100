//! Nothing that is aimed at moves: all controls of a panel keep their places when something else changes.

use bevy::prelude::KeyCode;
use scan::BodySite;

use crate::sitting::{Sitting, demo_scan};

/// Width of the window, of its panel, and of the bar for scrolling at the panel's edge.
const WIDTHS: [f32; 3] = [1280.0, 348.0, 24.0];
/// Controls this near count as being at the same place.
const SAME: f32 = 0.5;

/// The controls of the panel.
fn controls(sitting: &mut Sitting) -> Vec<[f32; 4]> {
    sitting.steady();
    let [right, width, bar] = WIDTHS;
    // Without the stop button, which comes and goes in the line below the stage.
    let [_, top, _, height] = sitting.trial.stage();
    let all = sitting.trial.controls().into_iter();
    let inside = |[left, _, end, bottom]: &[f32; 4]| {
        *left > right - width && *left < right - bar && *end <= right && *bottom < top + height
    };
    all.filter(inside).collect()
}

/// Asserts that each control that was there is there still, at its place.
fn assert_still(before: &[[f32; 4]], after: &[[f32; 4]], what: &str) {
    assert!(before.len() > 8, "{what}: {} controls are read", before.len());
    let same = |a: &[f32; 4], b: &[f32; 4]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < SAME);
    let gone: Vec<_> = before.iter().filter(|one| !after.iter().any(|other| same(one, other))).collect();
    assert!(gone.is_empty(), "{what}: moved from {gone:?}");
}

/// Another cleaning leaves another list of what was done.
#[test]
fn no_control_moves_when_a_cleaning_ends() {
    let mut sitting = Sitting::with_in(&demo_scan("forearm-16.stl"), BodySite::Forearm, [1280, 2000]);
    let done = |sitting: &mut Sitting| {
        let limb = sitting.trial.session().derived().limb.value().expect("a limb").clone();
        limb.report.steps.iter().filter(|step| step.changed).map(|step| step.sentence.clone()).collect::<Vec<_>>()
    };
    let (first, before) = (done(&mut sitting), controls(&mut sitting));
    // All that cleaning does is switched off.
    sitting.trial.session().edit("cleaning", |design| {
        let clean = &mut design.clean;
        (clean.mend, clean.remove_table_plane, clean.drop_small_pieces) = (false, false, false);
        (clean.smooth, clean.fill_holes_mm, clean.longest_edge_mm) = (0.0, 0.0, None);
    });
    sitting.rests();
    assert_ne!(done(&mut sitting), first, "another list of what was done");
    assert_still(&before, &controls(&mut sitting), "cleaning");
}

#[test]
fn no_control_moves_with_the_first_stroke() {
    let mut sitting = Sitting::with_in(&demo_scan("shin-23.obj"), BodySite::Shin, [1280, 2000]);
    sitting.trial.press(&[], KeyCode::KeyB);
    let before = controls(&mut sitting);
    let [from, to] = [0.4, 0.6].map(|down| sitting.skin_at(0.5, down));
    let [from, to] = [from, to].map(|place| sitting.seen(&place));
    sitting.trial.drag(from, to);
    sitting.rests();
    assert!(!sitting.design().zone.sources.is_empty(), "painted");
    assert_still(&before, &controls(&mut sitting), "the first stroke");
}

#[test]
fn no_control_moves_when_a_pattern_is_chosen() {
    let mut sitting = Sitting::with_shell_in([1280, 2000]);
    sitting.trial.press(&[], KeyCode::Digit7);
    sitting.rests();
    let before = controls(&mut sitting);
    let dots = sitting.trial.texts().iter().find(|text| text.text == "Dots").expect("patterns").middle();
    sitting.trial.click(dots);
    sitting.rests();
    let look = sitting.design().look.expect("a look");
    assert!(look.artwork.is_some(), "dots lie on it");
    assert_still(&before, &controls(&mut sitting), "a pattern");
}

/// The measured gap comes after the shell.
#[test]
fn no_control_moves_when_the_gap_is_measured() {
    let mut sitting = Sitting::with_shell_in([1280, 2000]);
    sitting.trial.press(&[], KeyCode::Digit4);
    let before = controls(&mut sitting);
    sitting.until("the gap", |trial| trial.texts().iter().any(|text| text.text == "Least"));
    assert_still(&before, &controls(&mut sitting), "the gap");
}

/// What is wrong with a slider has a place of its own: a gap that leaves no room for a liner, and vents that find no
/// room.
#[test]
fn no_control_moves_when_something_is_wrong_with_a_slider() {
    let mut sitting = Sitting::with_shell_in([1280, 3000]);
    let before = controls(&mut sitting);
    let told = |sitting: &Sitting, begins: &str| sitting.trial.texts().iter().any(|t| t.text.starts_with(begins));
    let begins = "A gap of 0 mm";
    assert!(!told(&sitting, begins));
    sitting.trial.session().edit("gap", |design| design.shell.gap_mm = 0.0);
    sitting.rests();
    let after = controls(&mut sitting);
    assert!(told(&sitting, begins));
    assert_still(&before, &after, "a gap of nought");
    // Larger than all of the zone.
    sitting.trial.session().edit("vents", |design| {
        let vents = design.shell.vents.get_or_insert(shell::Vents::USUAL);
        (vents.size_mm, vents.rim_distance_mm) = (40.0, 40.0);
    });
    sitting.rests();
    let after = controls(&mut sitting);
    let problem = sitting.trial.session().derived().problem().expect("vents without room").clone();
    assert!(problem.setting.is_some_and(|path| path.starts_with("shell.vents")));
    assert_still(&before, &after, "vents without room");
}

/// Settings of a chosen thing stand below the list; choosing another one moves none of it.
#[test]
fn no_control_moves_when_a_strap_is_chosen() {
    let mut sitting = Sitting::with_shell_in([1280, 3000]);
    for down in [0.4, 0.6] {
        let place = sitting.skin_at(0.5, down);
        sitting.trial.press(&[], KeyCode::KeyK);
        let at = sitting.seen(&place);
        sitting.trial.click(at);
    }
    sitting.rests();
    sitting.trial.view().shell.chosen = None;
    let before = controls(&mut sitting);
    let slots: Vec<[f32; 2]> = {
        let all = sitting.trial.texts().iter().filter(|text| text.text.contains("Strap slot, "));
        all.map(workbench::TextInWindow::middle).collect()
    };
    assert_eq!(slots.len(), 2, "two are listed");
    for at in slots {
        let settings = before.len();
        sitting.trial.click(at);
        let after = controls(&mut sitting);
        assert!(after.len() > settings, "its settings are open");
        assert_still(&before, &after, "a strap is chosen");
    }
}

/// Buttons to place things stay where they are while one waits for its place.
#[test]
fn no_control_moves_while_a_strap_waits_for_its_place() {
    let mut sitting = Sitting::with_shell_in([1280, 3000]);
    let before = controls(&mut sitting);
    sitting.trial.press(&[], KeyCode::KeyK);
    assert!(sitting.trial.view().shell.placing.is_some());
    assert_still(&before, &controls(&mut sitting), "a strap that waits");
}

/// The sliders of ribs and vents keep their place without them.
#[test]
fn no_control_moves_when_ribs_and_vents_go() {
    let mut sitting = Sitting::with_shell_in([1280, 3000]);
    sitting.trial.session().edit("none", |design| (design.shell.ribs, design.shell.vents) = (None, None));
    sitting.rests();
    let before = controls(&mut sitting);
    sitting.trial.press(&[], KeyCode::KeyJ);
    sitting.trial.press(&[KeyCode::ShiftLeft], KeyCode::KeyX);
    sitting.rests();
    assert!(sitting.design().shell.ribs.is_some() && sitting.design().shell.vents.is_some());
    assert_still(&before, &controls(&mut sitting), "ribs and vents");
}

/// A site that the size contradicts and an unusual number are reported at their fields.
#[test]
fn no_control_moves_when_site_or_number_is_doubted() {
    let mut sitting = Sitting::with_in(&demo_scan("shoulder-19.ply"), BodySite::Shoulder, [1280, 2000]);
    let before = controls(&mut sitting);
    sitting.trial.session().edit("about", |design| {
        session::about::set_site(design, BodySite::Forearm);
        session::about::set_number(design, Some(1007));
    });
    sitting.rests();
    let after = controls(&mut sitting);
    assert!(sitting.trial.texts().iter().any(|text| text.text.starts_with("The squad number 1007")));
    assert_still(&before, &after, "doubts");
}

/// Settings of a special spot stand below the list of spots.
#[test]
fn no_control_moves_when_a_special_spot_is_chosen() {
    let mut sitting = Sitting::with_in(&demo_scan("shin-23.obj"), BodySite::Shin, [1280, 2000]);
    sitting.trial.press(&[], KeyCode::Digit2);
    let place = sitting.skin_at(0.5, 0.5);
    sitting.trial.session().edit("spots", |design| {
        use session::marking::{add_dabs, add_region};
        for kind in [
            zone::RegionKind::Relief { depth_mm: 2.0, falloff_mm: 8.0 },
            zone::RegionKind::KeepClear { margin_mm: 2.0 },
        ] {
            let target = add_region(&mut design.zone, kind);
            let dab = zone::Dab { at_mm: place, radius_mm: 8.0, remove: false };
            add_dabs(&mut design.zone, target, &[dab]);
        }
    });
    sitting.rests();
    let before = controls(&mut sitting);
    for number in 0..2 {
        sitting.trial.view().zone.aim = workbench::Aim::Region(number);
        let after = controls(&mut sitting);
        assert!(after.len() > before.len(), "its settings are open");
        assert_still(&before, &after, "a spot is chosen");
    }
}

/// A sentence too long for the line below is shortened there; panel and stage keep their places.
#[test]
fn no_control_moves_when_much_is_said() {
    let mut sitting = Sitting::with_in(&demo_scan("wrist-12.ply"), BodySite::Wrist, [1280, 2000]);
    let (before, stage) = (controls(&mut sitting), sitting.trial.stage());
    let below = |sitting: &Sitting| {
        sitting.trial.texts().iter().filter(|text| text.text == "Save").map(|text| text.field).collect::<Vec<_>>()
    };
    let buttons = below(&sitting);
    let missing = sitting.folder.path().join("a folder that is not there ".repeat(20)).join("scan.ply");
    sitting.trial.session().open(&missing, BodySite::Other, scan::Side::Unknown);
    sitting.until("a long sentence", |trial| trial.said().is_some_and(|said| said.len() > 400));
    sitting.trial.frame();
    sitting.trial.frame();
    assert_eq!((sitting.trial.stage(), below(&sitting)), (stage, buttons));
    assert_still(&before, &controls(&mut sitting), "a long sentence");
}

/// A scan that arrives is offered over the stage, which stays as it is under the hand.
#[test]
fn the_stage_stays_when_a_scan_arrives() {
    let mut sitting = Sitting::with(&demo_scan("wrist-12.ply"), BodySite::Wrist);
    let stage = sitting.trial.stage();
    let folder = sitting.folder.path().join("scanner");
    std::fs::create_dir(&folder).expect("a folder");
    sitting.trial.session().watch(Some(&folder));
    std::fs::copy(demo_scan("ankle-31.ply"), folder.join("new.ply")).expect("a scan");
    let offered = "A new scan has arrived: new.ply";
    sitting.until("the offer", |trial| trial.texts().iter().any(|text| text.text == offered));
    assert_eq!(sitting.trial.stage(), stage);
}
