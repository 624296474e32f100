//! Straps, holes, seats and numbers go where they are put and dragged; the part lies on the printer's bed.

use bevy::prelude::KeyCode;
use nalgebra::Point3;
use shell::{Design, FittingKind};
use workbench::Step;

use crate::sitting::Sitting;

/// Where the design has a thing.
type At = fn(&Design) -> Option<Point3<f32>>;

fn fitting(design: &Design, is: fn(&FittingKind) -> bool) -> Option<Point3<f32>> {
    design.fittings.iter().find(|fitting| is(&fitting.kind)).map(|fitting| fitting.at_mm)
}

const SHIFT: &[KeyCode] = &[KeyCode::ShiftLeft];

/// What is placed, and its keys.
const THINGS: [(&str, &[KeyCode], KeyCode, At); 6] = [
    ("strap slot", &[], KeyCode::KeyK, |d| fitting(d, |kind| matches!(kind, FittingKind::StrapSlot { .. }))),
    ("lace holes", SHIFT, KeyCode::KeyL, |d| fitting(d, |kind| matches!(kind, FittingKind::LaceHoles { .. }))),
    ("tie slots", SHIFT, KeyCode::KeyI, |d| fitting(d, |kind| matches!(kind, FittingKind::TieSlot { .. }))),
    ("stitch holes", SHIFT, KeyCode::KeyZ, |d| fitting(d, |kind| matches!(kind, FittingKind::StitchHoles { .. }))),
    ("seat", SHIFT, KeyCode::KeyO, |d| fitting(d, |kind| matches!(kind, FittingKind::HookAndLoopSeat { .. }))),
    ("number", SHIFT, KeyCode::KeyN, |d| d.marks.iter().find(|mark| mark.text == "23").map(|mark| mark.at_mm)),
];

/// A click puts a thing on the skin under it, a drag takes it along, undo brings it back and Delete takes it away. The
/// places are those of the scan's own points, seen through the camera.
#[test]
fn everything_on_the_shell_goes_where_the_hand_puts_it() {
    let mut sitting = Sitting::with_shell();
    sitting.trial.session().edit("number", |design| design.squad_number = Some(23));
    let here = sitting.skin_at(0.52, 0.42);
    let there = sitting.skin_at(0.50, 0.60);
    assert!((there - here).norm() > 20.0);
    for (name, held, key, at) in THINGS {
        sitting.trial.press(held, key);
        let click = sitting.seen(&here);
        sitting.trial.click(click);
        let put = at(&sitting.design().shell).unwrap_or_else(|| panic!("no {name} came"));
        assert!((put - here).norm() < 0.3, "{name} {put} was clicked at {here}");
        let (handle, _) = sitting.outer_face(&put);
        let handle = sitting.seen(&handle);
        let to = sitting.seen(&there);
        sitting.trial.drag(handle, to);
        let moved = at(&sitting.design().shell).expect("still there");
        assert!((moved - there).norm() < 0.3, "{name} {moved} was dragged to {there}");
        sitting.trial.undo();
        sitting.trial.frame();
        assert_eq!(at(&sitting.design().shell), Some(put), "{name}: the drag is one step");
        sitting.trial.press(&[], KeyCode::Delete);
        assert_eq!(at(&sitting.design().shell), None, "{name} stays");
    }
}

/// The arm of a strap slot, 30 mm long, is turned to where its end is dragged.
#[test]
fn a_strap_slot_is_turned_by_its_arm() {
    let mut sitting = Sitting::with_shell();
    let here = sitting.skin_at(0.5, 0.5);
    sitting.trial.press(&[], KeyCode::KeyK);
    let click = sitting.seen(&here);
    sitting.trial.click(click);
    let placed = sitting.design().shell.fittings[0].clone();
    assert_eq!(placed.turn_deg, 90.0, "a slot stands along the limb");
    let (stand, normal) = sitting.outer_face(&placed.at_mm);
    let (around, along) = shell::skin_directions(&normal);
    let end = |turn_deg: f32| {
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        stand + (around * cos + along * sin) * 30.0
    };
    let from = sitting.seen(&end(90.0));
    for wanted in [40.0_f32, 130.0] {
        let to = sitting.seen(&end(wanted));
        sitting.trial.drag(from, to);
        let turned = sitting.design().shell.fittings[0].clone();
        assert!((turned.turn_deg - wanted).abs() <= 1.0, "{} for {wanted}", turned.turn_deg);
        assert_eq!(turned.at_mm, placed.at_mm, "turning does not move it");
        sitting.trial.undo();
        sitting.trial.frame();
        assert_eq!(sitting.design().shell.fittings, std::slice::from_ref(&placed));
    }
}

#[test]
fn a_part_larger_than_the_bed_is_told_with_what_is_missing() {
    let mut sitting = Sitting::with_shell();
    let before = sitting.trial.eye().expect("a camera");
    sitting.trial.session().preferences.bed_mm = Some([256.0, 256.0, 400.0]);
    sitting.trial.press(&[], KeyCode::Digit6);
    assert_eq!(sitting.trial.view().step, Step::Print);
    sitting.until("the bed", |trial| trial.on_bed().is_some_and(|laid| laid.fits()));
    // The size at a turn, from the points of the shell itself.
    let session = sitting.trial.session();
    let design = session.design().expect("a design").clone();
    let shell = session.derived().best_shell(&design).expect("a shell").clone();
    let size = |turn_deg: f64| {
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        let turned = |p: &Point3<f32>| {
            let (x, y) = (f64::from(p.x), f64::from(p.y));
            [cos * x - sin * y, sin * x + cos * y]
        };
        [0, 1].map(|axis| {
            let all = shell.mesh.points.iter().map(|p| turned(p)[axis]);
            let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)));
            high - low
        })
    };
    // All of the bed is in sight, and the limb as before at the steps that show it.
    let (low, high) = shell.mesh.bounds().expect("a shell");
    let [left, top, width, height] = sitting.trial.stage();
    for corner in [[-128.0, -128.0], [128.0, -128.0], [128.0, 128.0], [-128.0, 128.0]] {
        let middle = nalgebra::center(&low, &high);
        let [x, y] = sitting.seen(&Point3::new(middle.x + corner[0], middle.y + corner[1], low.z));
        assert!((left..left + width).contains(&x) && (top..top + height).contains(&y), "{corner:?} at {x} {y}");
    }
    sitting.trial.press(&[], KeyCode::Digit4);
    assert!((sitting.trial.eye().expect("a camera") - before).norm() < 0.1);
    sitting.trial.press(&[], KeyCode::Digit6);
    let flat = size(0.0);
    let side = 0.6 * flat[0].max(flat[1]) as f32;
    sitting.trial.session().preferences.bed_mm = Some([side, side, 400.0]);
    sitting.until("the smaller bed", |trial| trial.on_bed().is_some_and(|laid| !laid.fits()));
    let laid = sitting.trial.on_bed().expect("laid");
    let missing = |turn_deg: f64| {
        let [across, along] = size(turn_deg);
        across.max(along) - f64::from(side)
    };
    assert!((missing(laid.turn_deg) + laid.room_mm).abs() < 0.01, "{laid:?}");
    // However it is turned, no less is missing.
    assert!((0..180).all(|turn| missing(f64::from(turn)) > -laid.room_mm - 0.01), "{laid:?}");
}

/// A strap slot is chosen by a click anywhere on it; a slot-shaped vent takes no click.
#[test]
fn a_vent_that_is_a_slot_is_not_taken_for_a_strap_slot() {
    let mut sitting = Sitting::with_shell();
    sitting.trial.session().edit("vents", |design| {
        let (size_mm, ligament_mm, rim_distance_mm) = (6.0, 3.0, 7.0);
        let kind = shell::VentKind::Slot;
        design.shell.vents = Some(shell::Vents { kind, size_mm, ligament_mm, rim_distance_mm, ..shell::Vents::USUAL });
    });
    let here = sitting.skin_at(0.5, 0.4);
    sitting.trial.press(&[], KeyCode::KeyK);
    let click = sitting.seen(&here);
    sitting.trial.click(click);
    sitting.until("the vents", |trial| {
        let session = trial.session();
        session.progress().is_empty() && session.design().is_some_and(|d| session.derived().shell_is_current(d))
    });
    sitting.trial.view().shell.chosen = None;
    // 10 mm along the slot from its middle, beside its handle.
    let (stand, normal) = sitting.outer_face(&here);
    let (_, along) = shell::skin_directions(&normal);
    let end = sitting.seen(&(stand + along * 10.0));
    sitting.trial.click(end);
    assert!(sitting.trial.view().shell.chosen.is_some(), "the strap slot is chosen at its end");
    sitting.trial.view().shell.chosen = None;
    let before = sitting.design();
    for down in [0.5, 0.55, 0.6] {
        let vent = sitting.skin_at(0.5, down);
        let (face, _) = sitting.outer_face(&vent);
        let click = sitting.seen(&face);
        sitting.trial.click(click);
        assert!(sitting.trial.view().shell.chosen.is_none(), "nothing is chosen at {down}");
    }
    assert_eq!(sitting.design(), before);
}
