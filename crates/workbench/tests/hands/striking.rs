//! The material step: blows, places, maps, and the lightest guard, by mouse and keys.

use bevy::prelude::KeyCode;
use engine::StrengthMap;
use nalgebra::Point3;

use crate::sitting::Sitting;

const CTRL: &[KeyCode] = &[KeyCode::ControlLeft];
const CTRL_SHIFT: &[KeyCode] = &[KeyCode::ControlLeft, KeyCode::ShiftLeft];

/// With the guard struck as the design says.
fn struck() -> Sitting {
    let mut sitting = Sitting::with_shell_in([1280, 3000]);
    sitting.trial.press(&[], KeyCode::Digit5);
    sitting.rests();
    sitting
}

fn peak(sitting: &mut Sitting) -> f64 {
    let design = sitting.design();
    let derived = sitting.trial.session().derived();
    let report = derived.strength_now(&design).expect("it is struck");
    report.row(design.material, design.filament.as_deref()).expect("a row").answer.peak_kpa.value
}

/// A key takes another blow and another foam, the answers follow, and undo takes them back.
#[test]
fn another_blow_and_another_foam_give_another_answer() {
    let mut sitting = struck();
    let first = peak(&mut sitting);
    assert!(first > 10.0 && first < 1e5, "{first}");
    assert!(sitting.trial.texts().iter().any(|text| text.text.starts_with("Greatest pressure on the skin")));
    assert!(sitting.trial.texts().iter().any(|text| text.text == "struck here"));
    let design = sitting.design();
    let rows = &sitting.trial.session().derived().strength_now(&design).expect("it is struck").rows;
    assert!(rows.iter().all(|row| row.answer.peak_kpa.low < row.answer.peak_kpa.high), "with ranges once all is done");
    sitting.trial.press(CTRL, KeyCode::KeyJ);
    sitting.rests();
    let harder = peak(&mut sitting);
    assert!(sitting.design().strength.blow.is_some() && harder > 1.5 * first, "15 J for 3: {first} {harder}");
    sitting.trial.press(CTRL, KeyCode::KeyU);
    sitting.rests();
    assert!(sitting.design().strength.foam.is_some() && peak(&mut sitting) != harder);
    sitting.trial.undo();
    sitting.trial.undo();
    sitting.rests();
    assert_eq!(sitting.design().strength, locker::StrengthSettings::default());
    assert!((peak(&mut sitting) / first - 1.0).abs() < 1e-6);
}

/// A click on the guard strikes it there, a drag only turns it, and one key strikes the middle again.
#[test]
fn a_click_strikes_the_guard_where_it_is_clicked() {
    let mut sitting = struck();
    let design = sitting.design();
    let report = sitting.trial.session().derived().strength_now(&design).expect("it is struck");
    let middle = Point3::from(report.at_mm.map(|x| x as f32));
    let up = middle + nalgebra::Vector3::new(0.0, 0.0, 15.0);
    let at = sitting.trial.seen(&up).expect("it is in sight");
    sitting.trial.drag(at, [at[0] + 40.0, at[1]]);
    assert_eq!(sitting.design().strength.at_mm, None, "a drag turns the limb");
    sitting.trial.drag([at[0] + 40.0, at[1]], at);
    sitting.steady();
    let at = sitting.trial.seen(&up).expect("it is in sight");
    sitting.trial.click(at);
    let there = sitting.design().strength.at_mm.expect("a place");
    assert!((there - up).norm() < 12.0, "{there} for {up}");
    sitting.rests();
    let design = sitting.design();
    let told = sitting.trial.session().derived().strength_now(&design).expect("it is struck again").at_mm;
    assert!((Point3::from(told.map(|x| x as f32)) - there).norm() < 1e-3);
    sitting.trial.press(CTRL_SHIFT, KeyCode::KeyJ);
    assert_eq!(sitting.design().strength.at_mm, None);
}

/// Maps come one after the other with their legend; the guard goes out of sight where the skin under it is looked at.
#[test]
fn maps_show_stress_dent_and_pressure() {
    let mut sitting = struck();
    for (map, unit) in
        [(StrengthMap::Stress, "100 % +"), (StrengthMap::Dent, " mm +"), (StrengthMap::Pressure, " kPa +")]
    {
        sitting.trial.press(CTRL, KeyCode::KeyH);
        sitting.rests();
        let design = sitting.design();
        let drawn = sitting.trial.session().derived().strength_map_now(&design).expect("it is drawn").clone();
        assert_eq!(drawn.values.map, map);
        assert!(drawn.values.most > 0.0 && drawn.values.most.is_finite());
        assert!(sitting.trial.texts().iter().any(|text| text.text.ends_with(unit)), "{unit}");
        assert_eq!(sitting.trial.shows_shell(), map != StrengthMap::Pressure, "{map:?}");
    }
    sitting.trial.press(CTRL, KeyCode::KeyH);
    sitting.rests();
    assert!(sitting.trial.view().material.map.is_none());
    sitting.until("the guard", |trial| trial.shows_shell());
}

/// The lightest guard is sought with one key, ended early with what it has by then, taken, and taken back.
#[test]
fn the_lightest_guard_is_sought_ended_taken_and_taken_back() {
    let mut sitting = struck();
    // What the flexible filament bears, so that something holds soon.
    sitting.trial.press(CTRL, KeyCode::KeyM);
    sitting.rests();
    sitting.trial.view().material.targets.spare = (true, 0.3);
    let before = sitting.design();
    sitting.trial.press(CTRL, KeyCode::KeyN);
    let mut held = false;
    for _ in 0..6000 {
        sitting.trial.frame();
        let seeking = sitting.trial.session().seeking();
        held = seeking.so_far().1.is_some();
        if held || !seeking.is_running() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    assert!(held, "one holds");
    sitting.trial.press(&[], KeyCode::Escape);
    sitting.rests();
    let found = sitting.trial.session().seeking().found(&before.shell).expect("it is kept").clone();
    let best = found.best.as_ref().expect("the lightest so far");
    assert!(best.worst <= 1.0 && found.trace.iter().all(|trial| trial.worst > 1.0 || trial.grams >= best.grams - 1e-9));
    sitting.trial.press(CTRL_SHIFT, KeyCode::KeyN);
    assert!(sitting.design().shell == best.design);
    sitting.trial.undo();
    sitting.trial.frame();
    assert!(sitting.design() == before, "undo brings the guard before back");
}
