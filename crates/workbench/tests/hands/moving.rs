//! Moving between steps, windows and states by keys.

use bevy::prelude::KeyCode;
use scan::{BodySite, Side};
use workbench::Step;

use crate::sitting::{Sitting, demo_scan};

const CTRL: &[KeyCode] = &[KeyCode::ControlLeft];

/// Site and side are asked at the scan step; a design has them, and work on it goes on where it was left.
#[test]
fn a_scan_opens_at_the_scan_step_and_a_design_where_one_is() {
    let mut sitting = Sitting::with(&demo_scan("wrist-12.ply"), BodySite::Wrist);
    let saved = sitting.folder.path().join("guard.json");
    sitting.trial.session().save_as(&saved);
    sitting.until("saving", |trial| !trial.session().is_saving());
    sitting.trial.press(&[], KeyCode::Digit6);
    assert_eq!(sitting.trial.view().step, Step::Print);
    for (file, step) in [(saved, Step::Print), (demo_scan("ankle-31.ply"), Step::Scan)] {
        let before = sitting.trial.session().opened();
        sitting.trial.session().open(&file, BodySite::Other, Side::Unknown);
        sitting.until("the file", |trial| trial.session().opened() != before);
        sitting.trial.frame();
        assert_eq!(sitting.trial.view().step, step, "{}", file.display());
    }
}

#[test]
fn small_windows_open_one_at_a_time_and_esc_closes_them_first() {
    let mut sitting = Sitting::with(&demo_scan("wrist-12.ply"), BodySite::Wrist);
    sitting.trial.press(&[], KeyCode::Digit2);
    sitting.trial.press(&[], KeyCode::KeyO);
    let click = sitting.skin_at(0.5, 0.5);
    let click = sitting.seen(&click);
    sitting.trial.click(click);
    assert_eq!(sitting.trial.view().zone.open.len(), 1);
    sitting.trial.press(&[], KeyCode::F1);
    let keys = sitting.trial.view().floating.expect("the list of keys");
    sitting.trial.press(CTRL, KeyCode::Comma);
    let settings = sitting.trial.view().floating.expect("the settings");
    assert_ne!(keys, settings, "one in place of the other");
    sitting.trial.press(&[], KeyCode::Escape);
    assert_eq!(
        (sitting.trial.view().floating, sitting.trial.view().zone.open.len()),
        (None, 1),
        "only the window closes"
    );
    sitting.trial.press(&[], KeyCode::Escape);
    assert!(sitting.trial.view().zone.open.is_empty(), "then the outline is given up");
}

#[test]
fn both_keys_of_redo_do_it_again() {
    let mut sitting = Sitting::with(&demo_scan("wrist-12.ply"), BodySite::Wrist);
    let before = sitting.design();
    sitting.trial.press(&[], KeyCode::KeyL);
    let after = sitting.design();
    assert_ne!(after.side, before.side);
    for (held, key) in [(&[KeyCode::ControlLeft, KeyCode::ShiftLeft][..], KeyCode::KeyZ), (CTRL, KeyCode::KeyY)] {
        sitting.trial.press(CTRL, KeyCode::KeyZ);
        assert_eq!(sitting.design(), before);
        sitting.trial.press(held, key);
        assert_eq!(sitting.design(), after, "{key:?}");
    }
}

/// However near the camera has gone, one key brings every point of the limb into the stage again.
#[test]
fn everything_is_brought_into_sight() {
    let mut sitting = Sitting::with(&demo_scan("wrist-12.ply"), BodySite::Wrist);
    let inside = |sitting: &mut Sitting| {
        let [left, top, width, height] = sitting.trial.stage();
        let limb = sitting.trial.session().derived().limb.value().expect("a limb").clone();
        let points = &limb.skin.mesh().points;
        let seen = points.iter().step_by(97).filter_map(|p| sitting.trial.seen(p));
        let seen: Vec<[f32; 2]> = seen.collect();
        let within = |[x, y]: &[f32; 2]| (left..left + width).contains(x) && (top..top + height).contains(y);
        seen.len() == points.len().div_ceil(97) && seen.iter().all(within)
    };
    assert!(inside(&mut sitting), "at first");
    for _ in 0..12 {
        sitting.trial.hold(KeyCode::Equal);
    }
    assert!(!inside(&mut sitting), "the camera has gone near");
    sitting.trial.press(&[], KeyCode::Digit0);
    sitting.trial.frame();
    assert!(inside(&mut sitting), "brought back");
    // Seen end on, the limb is hardly seen at all.
    let rise = |sitting: &mut Sitting| {
        let limb = sitting.trial.session().derived().limb.value().expect("a limb").clone();
        let (low, high) = limb.skin.bounds().expect("points");
        let way = sitting.trial.eye().expect("a camera") - nalgebra::center(&low, &high);
        way.z / way.norm()
    };
    for _ in 0..12 {
        sitting.trial.hold(KeyCode::ArrowUp);
    }
    assert!(rise(&mut sitting) > 0.9, "nearly from above");
    sitting.trial.press(&[], KeyCode::Digit0);
    sitting.trial.frame();
    assert!(rise(&mut sitting).abs() < 0.5, "from the side again");
    assert!(inside(&mut sitting), "and whole");
}

/// A saved design comes back at the step, in the view and with the switches it was left with, also in the next sitting.
#[test]
fn a_design_comes_back_as_it_was_left() {
    let mut sitting = Sitting::with_shell();
    let saved = sitting.folder.path().join("guard.json");
    sitting.trial.session().save_as(&saved);
    sitting.until("saving", |trial| !trial.session().is_saving());
    sitting.trial.press(&[], KeyCode::Digit4);
    sitting.trial.view().fit.heat = false;
    sitting.trial.turn(0.7);
    sitting.trial.frame();
    sitting.trial.frame();
    let eye = sitting.trial.eye().expect("a camera");
    let kept = |session: &session::Session| {
        let look = session.preferences.last_look(&saved);
        look.is_some_and(|look| look.step == "Fit" && look.switched_on.is_empty())
    };
    sitting.until("the view to be kept", |trial| kept(trial.session()));
    for file in [demo_scan("wrist-12.ply"), saved.clone()] {
        let before = sitting.trial.session().opened();
        sitting.trial.session().open(&file, BodySite::Other, Side::Unknown);
        sitting.until("the file", |trial| trial.session().opened() != before && trial.shows_limb());
        sitting.rests();
        let there = (sitting.trial.eye().expect("a camera") - eye).norm();
        let (step, heat) = (sitting.trial.view().step, sitting.trial.view().fit.heat);
        if file == saved {
            assert!(there < 0.5 && step == Step::Fit && !heat, "{there} mm away, {step:?}");
        } else {
            assert!(there > 20.0 && step == Step::Scan, "another limb is seen as it is");
            sitting.trial.view().fit.heat = true;
        }
    }
    let next = session::Session::begin(session::Places::inside(sitting.folder.path())).expect("the next sitting");
    assert!(kept(&next));
}

/// A slow frame holds the way of the pointer to a place and the press there: only the way with the button down turns
/// the view.
#[test]
fn the_way_to_a_press_does_not_turn_the_limb() {
    let mut sitting = Sitting::with(&demo_scan("wrist-12.ply"), BodySite::Wrist);
    sitting.trial.press(&[], KeyCode::Digit3);
    let [left, top, width, height] = sitting.trial.stage();
    let (beside, far) = ([left + 0.1 * width, top + 0.8 * height], [left + 0.8 * width, top + 0.1 * height]);
    sitting.trial.move_to(far[0], far[1]);
    sitting.trial.frame();
    let before = sitting.trial.eye().expect("a camera");
    sitting.trial.move_to(beside[0], beside[1]);
    sitting.trial.button(true);
    sitting.trial.frame();
    sitting.trial.button(false);
    sitting.trial.frame();
    assert_eq!(sitting.trial.eye(), Some(before), "the way to the press");
    // Pressed, dragged and let go within one frame.
    sitting.trial.button(true);
    sitting.trial.move_to(beside[0] + 100.0, beside[1]);
    sitting.trial.button(false);
    sitting.trial.frame();
    let after = sitting.trial.eye().expect("a camera");
    assert!((after - before).norm() > 20.0, "the drag itself: {before} to {after}");
    sitting.trial.move_to(far[0], far[1]);
    sitting.trial.frame();
    sitting.trial.frame();
    assert_eq!(sitting.trial.eye(), Some(after), "no button is down any more");
}
