//! Nothing that is aimed at moves: places of all controls of a panel before and after what comes by itself.

use bevy::prelude::KeyCode;
use scan::BodySite;

use crate::sitting::{Sitting, demo_scan};

/// Width of the window, of its panel, and of the bar for scrolling at the panel's edge.
const WIDTHS: [f32; 3] = [1280.0, 348.0, 24.0];
/// Height of the window, so that whole panels find room, and of the line below, where work that goes on can be stopped.
const HEIGHTS: [f32; 2] = [2000.0, 52.0];
/// Where a control counts as being at the same place.
const SAME: f32 = 0.5;

/// The controls of the panel.
fn controls(sitting: &mut Sitting) -> Vec<[f32; 4]> {
    sitting.steady();
    let ([right, width, bar], [height, line]) = (WIDTHS, HEIGHTS);
    let all = sitting.trial.controls().into_iter();
    let inside = |[left, _, end, bottom]: &[f32; 4]| {
        *left > right - width && *left < right - bar && *end <= right && *bottom < height - line
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
