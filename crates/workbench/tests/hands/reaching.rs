//! What pointer positions alone do: strokes from beside the limb, long presses, turning.

use std::time::Duration;

use bevy::prelude::KeyCode;
use scan::BodySite;
use shell::FittingKind;
use zone::Source;

use crate::sitting::{Sitting, demo_scan};

/// The dabs of the brush.
fn dabs(sitting: &mut Sitting) -> Vec<nalgebra::Point3<f32>> {
    let sources = sitting.design().zone.sources;
    let of = |source: &Source| match source {
        Source::Strokes { dabs } => dabs.iter().map(|dab| dab.at_mm).collect(),
        _ => Vec::new(),
    };
    sources.iter().flat_map(of).collect()
}

/// The leftmost place of the limb in the window at half the height of the stage.
fn left_edge(sitting: &mut Sitting) -> [f32; 2] {
    let [_, top, _, height] = sitting.trial.stage();
    let middle = top + 0.5 * height;
    let limb = sitting.trial.session().derived().limb.value().expect("a limb").clone();
    let seen = limb.skin.mesh().points.iter().filter_map(|p| sitting.trial.seen(p));
    let beside = seen.filter(|[_, y]| (y - middle).abs() < 4.0);
    [beside.map(|[x, _]| x).fold(f32::INFINITY, f32::min), middle]
}

/// From 25 units beside the limb the brush takes hold at its edge; from far beside it the button turns the limb.
#[test]
fn a_stroke_that_begins_just_beside_the_limb_takes_hold_at_its_edge() {
    let mut sitting = Sitting::with(&demo_scan("shin-23.obj"), BodySite::Shin);
    sitting.trial.press(&[], KeyCode::KeyB);
    let before = sitting.trial.eye().expect("a camera");
    let [x, y] = left_edge(&mut sitting);
    sitting.trial.drag([x - 25.0, y], [x + 60.0, y]);
    let painted = dabs(&mut sitting);
    let places: Vec<f32> = painted.iter().map(|at| sitting.trial.seen(at).expect("before the camera")[0] - x).collect();
    let [first, last] = [places.first(), places.last()].map(|place| *place.expect("a dab"));
    assert!(first.abs() < 4.0, "the first dab stands {first} from the edge");
    // Dabs stand a part of their radius apart.
    assert!((45.0..61.0).contains(&last), "the last dab stands at {last}");
    assert_eq!(sitting.trial.eye(), Some(before), "nothing has turned");
    sitting.trial.undo();
    sitting.trial.frame();
    assert!(dabs(&mut sitting).is_empty(), "one stroke, one step");
    sitting.trial.drag([x - 120.0, y], [x + 60.0, y]);
    assert!(dabs(&mut sitting).is_empty());
    assert!((sitting.trial.eye().expect("a camera") - before).norm() > 50.0, "the limb was turned");
}

/// Pen tablets and remote desktops send pointer positions and no motion, as the messages of these tests do.
#[test]
fn the_limb_turns_by_places_of_the_pointer_alone() {
    let mut sitting = Sitting::with(&demo_scan("wrist-12.ply"), BodySite::Wrist);
    let limb = sitting.trial.session().derived().limb.value().expect("a limb").clone();
    let (low, high) = limb.skin.bounds().expect("a limb");
    let middle = nalgebra::center(&low, &high);
    let around = |sitting: &mut Sitting| {
        let eye = sitting.trial.eye().expect("a camera");
        (eye.y - middle.y).atan2(eye.x - middle.x)
    };
    let before = around(&mut sitting);
    let [left, top, width, height] = sitting.trial.stage();
    let from = [left + 0.5 * width, top + 0.5 * height];
    sitting.trial.drag(from, [from[0] + 100.0, from[1]]);
    let turned = around(&mut sitting) - before;
    assert!((turned + 0.8).abs() < 0.02, "100 units turn it by 0.8 rad, not by {turned}");
}

/// A slow hand holds the button down longer than a quick one clicks.
#[test]
fn a_long_press_places_a_strap() {
    let mut sitting = Sitting::with_shell();
    let here = sitting.skin_at(0.52, 0.42);
    sitting.trial.press(&[], KeyCode::KeyK);
    let at = sitting.seen(&here);
    sitting.trial.hold_button(at, Duration::from_millis(1200));
    let fittings = sitting.design().shell.fittings;
    assert_eq!(fittings.len(), 1, "one strap slot");
    assert!(matches!(fittings[0].kind, FittingKind::StrapSlot { .. }));
    assert!((fittings[0].at_mm - here).norm() < 0.3);
}
