//! The first start, and what is asked before files are mixed up.

use bevy::prelude::KeyCode;
use workbench::TextInWindow;

use crate::sitting::Sitting;

/// The text that says exactly this.
fn find(sitting: &Sitting, text: &str) -> Option<TextInWindow> {
    sitting.trial.texts().iter().find(|t| t.text == text).cloned()
}

#[test]
fn a_first_start_offers_a_scan_of_ones_own_and_the_demo_at_once() {
    let mut sitting = Sitting::begin();
    sitting.steady();
    assert!(sitting.trial.session().document().is_none(), "nothing is opened by itself");
    let [own, demo] = ["My own scan…", "Try it on an invented limb"].map(|way| find(&sitting, way).expect(way));
    let [left, top, width, height] = sitting.trial.stage();
    for way in [&own, &demo] {
        let [x, y] = way.middle();
        assert!(way.is_in_sight() && x > left && x < left + width && y > top && y < top + height, "{way:?}");
    }
    sitting.trial.click(demo.middle());
    sitting.until("the demo", |trial| trial.shows_limb());
    assert_eq!(sitting.design().squad_number, Some(23));
    sitting.steady();
    assert!(find(&sitting, "My own scan…").is_none(), "it is asked only while nothing is open");
}

#[test]
fn a_folder_with_the_files_of_another_guard_is_asked_about() {
    let mut sitting = Sitting::with_shell();
    let folder = sitting.folder.path().join("prints");
    std::fs::create_dir(&folder).expect("a folder");
    let report = serde_json::json!({ "title": "Guard of number 16", "scan_sha256": "00" }).to_string();
    std::fs::write(folder.join("16-forearm-left-report.json"), report).expect("a file");
    let heading = "This folder has the files of another guard";
    let ask = |sitting: &mut Sitting| {
        sitting.trial.session().export(&folder, None);
        sitting.until("the question", |trial| trial.texts().iter().any(|text| text.text == heading));
        sitting.steady();
    };
    ask(&mut sitting);
    assert!(sitting.trial.texts().iter().any(|text| text.text.contains("Guard of number 16")), "it is named");
    // Keys of the steps below are not taken meanwhile.
    let step = sitting.trial.view().step;
    sitting.trial.press(&[], KeyCode::Digit1);
    assert_eq!(sitting.trial.view().step, step);
    sitting.trial.press(&[], KeyCode::Escape);
    assert!(find(&sitting, heading).is_none());
    sitting.rests();
    assert_eq!(std::fs::read_dir(&folder).expect("the folder").count(), 1, "nothing was written");
    ask(&mut sitting);
    sitting.trial.press(&[], KeyCode::KeyS);
    assert!(find(&sitting, heading).is_none() && sitting.trial.session().is_exporting(), "S saves there all the same");
    sitting.trial.session().stop();
    sitting.rests();
}
