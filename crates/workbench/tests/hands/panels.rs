//! What stands in the panels, read from the layout: nothing outside its panel, no two texts over each other.

use bevy::prelude::KeyCode;
use scan::BodySite;
use workbench::TextInWindow;

use crate::sitting::{Sitting, demo_scan};

const STEPS: [KeyCode; 7] = [
    KeyCode::Digit1,
    KeyCode::Digit2,
    KeyCode::Digit3,
    KeyCode::Digit4,
    KeyCode::Digit5,
    KeyCode::Digit6,
    KeyCode::Digit7,
];
/// What can be folded out.
const FOLDED: [&str; 3] = ["Checked, nothing to do", "What is made", "Before you print"];
/// Words that a keeper does not understand, which no panel may use.
const NOT_UNDERSTOOD: [&str; 12] = [
    "Mend ",
    "Split long",
    "parted at",
    "Stand-off",
    "Fades over",
    "Lifted over",
    "Free cells",
    "slicer",
    "As stiff as",
    "left alone",
    "Up from the lower",
    "middle of the stage",
];
/// Width of the window and of its panel at usual size.
const WIDTHS: [f32; 2] = [1280.0, 348.0];
/// Empty margin at each side of a panel at usual size.
const MARGIN: f32 = 18.0;

/// Two texts that cover each other by more than the edges of their letters.
fn over_each_other(texts: &[TextInWindow]) -> Vec<String> {
    let meets = |a: &TextInWindow, b: &TextInWindow| {
        let ([al, at, ar, ab], [bl, bt, br, bb]) = (a.field, b.field);
        ar.min(br) - al.max(bl) > 1.0 && ab.min(bb) - at.max(bt) > 1.0
    };
    let pairs = texts.iter().enumerate().flat_map(|(i, a)| texts[i + 1..].iter().map(move |b| (a, b)));
    pairs.filter(|(a, b)| meets(a, b)).map(|(a, b)| format!("“{}” over “{}”", a.text, b.text)).collect()
}

/// In a window high enough for whole panels, each step with all that can be folded out, at usual and at large text.
#[test]
fn every_panel_keeps_its_texts_inside_and_apart() {
    let mut sitting = Sitting::with_shell_in([WIDTHS[0] as u32, 4200]);
    let mut wrong = Vec::new();
    for scale in [1.0, 1.5] {
        sitting.trial.session().preferences.text_scale = scale;
        for step in STEPS {
            sitting.trial.press(&[], step);
            sitting.rests();
            for folded in FOLDED {
                let found = sitting.trial.texts().iter().find(|text| text.text == folded).map(TextInWindow::middle);
                if let Some(middle) = found.filter(|_| scale == 1.0) {
                    let before = sitting.trial.texts().len();
                    sitting.trial.click(middle);
                    sitting.steady();
                    assert!(sitting.trial.texts().len() > before, "{folded} folds out");
                }
            }
            sitting.steady();
            let left = WIDTHS[0] - scale * WIDTHS[1];
            let inside = [left + scale * MARGIN, WIDTHS[0] - scale * MARGIN];
            let panel: Vec<TextInWindow> =
                sitting.trial.texts().iter().filter(|text| text.clip[0] >= left - 1.0).cloned().collect();
            assert!(panel.len() > 8, "{step:?}: the panel is read");
            let odd = |text: &&TextInWindow| NOT_UNDERSTOOD.iter().any(|words| text.text.contains(words));
            let odd = sitting.trial.texts().iter().filter(odd);
            wrong.extend(odd.map(|text| format!("{step:?}: not understood: “{}”", text.text)));
            let outside = panel.iter().filter(|text| text.field[0] < inside[0] || text.field[2] > inside[1]);
            wrong.extend(outside.map(|text| format!("{step:?} {scale}: outside: “{}” {:?}", text.text, text.field)));
            wrong.extend(over_each_other(&panel).into_iter().map(|pair| format!("{step:?} {scale}: {pair}")));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// However far the panel of one step was scrolled down, the next one begins with its title.
#[test]
fn a_new_step_begins_at_its_top() {
    let mut sitting = Sitting::with(&demo_scan("wrist-12.ply"), BodySite::Wrist);
    let title = |sitting: &Sitting, name: &str| {
        let right = WIDTHS[0] - WIDTHS[1];
        sitting.trial.texts().iter().any(|text| text.text == name && text.clip[0] >= right - 1.0 && text.is_in_sight())
    };
    assert!(title(&sitting, "Scan"));
    sitting.trial.move_to(1100.0, 400.0);
    for _ in 0..20 {
        sitting.trial.wheel(-5.0);
    }
    sitting.steady();
    assert!(!title(&sitting, "Scan"), "scrolled down");
    sitting.trial.press(&[], KeyCode::PageDown);
    sitting.steady();
    assert!(title(&sitting, "Zone"));
    sitting.trial.press(&[], KeyCode::PageUp);
    sitting.steady();
    assert!(title(&sitting, "Scan"), "and so does the one before it");
}

#[test]
fn open_save_back_and_next_are_in_sight_at_every_step() {
    let mut sitting = Sitting::with_shell();
    for (number, step) in STEPS.into_iter().enumerate() {
        sitting.trial.press(&[], step);
        sitting.steady();
        let seen =
            |name: &str| sitting.trial.texts().iter().any(|text| text.text.starts_with(name) && text.is_in_sight());
        for name in ["Open…", "Save", "Back", "Next"] {
            assert!(seen(name), "{name} at step {}", number + 1);
        }
    }
}
