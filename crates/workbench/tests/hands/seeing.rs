//! What is in sight at the steps that only look.

use bevy::prelude::KeyCode;
use nalgebra::{Point3, Vector3};
use workbench::Step;

use crate::sitting::Sitting;

/// How much the covered skin faces the camera, −1 to 1.
fn facing(sitting: &mut Sitting) -> f32 {
    let eye = sitting.trial.eye().expect("a camera");
    let session = sitting.trial.session();
    let limb = session.derived().limb.value().expect("a limb").clone();
    let zone = session.derived().zone.value().expect("a zone").clone();
    let covered = (0..limb.skin.mesh().points.len()).filter(|v| zone.covered.distance_mm[*v] > 0.0);
    let looks: Vec<f32> =
        covered.map(|v| limb.skin.vertex_normals()[v].dot(&(eye - limb.skin.mesh().points[v]).normalize())).collect();
    looks.iter().sum::<f32>() / looks.len() as f32
}

#[test]
fn the_inside_is_looked_at_through_the_limb_and_the_outside_again_after_it() {
    let mut sitting = Sitting::with_shell();
    let before = sitting.trial.eye().expect("a camera");
    assert!(facing(&mut sitting) > 0.2, "the zone is what one sees first");
    sitting.trial.press(&[KeyCode::ShiftLeft], KeyCode::KeyV);
    assert_eq!(sitting.trial.view().step, Step::Fit);
    assert!(facing(&mut sitting) < -0.2, "seen from behind, through the limb");
    let looking = sitting.trial.view().fit.clone();
    assert!(looking.heat && !looking.cut && looking.limb <= 0.2, "{looking:?}");
    sitting.trial.press(&[], KeyCode::Digit7);
    let after = sitting.trial.eye().expect("a camera");
    assert!((after - before).norm() < 1.0, "the outside is in sight again");
    // Once the user has turned the camera, it stays.
    sitting.trial.press(&[KeyCode::ShiftLeft], KeyCode::KeyV);
    sitting.trial.turn(0.3);
    sitting.trial.frame();
    sitting.trial.frame();
    let turned = sitting.trial.eye().expect("a camera");
    sitting.trial.press(&[], KeyCode::Digit7);
    assert!((sitting.trial.eye().expect("a camera") - turned).norm() < 1.0);
}

/// A laptop should rest: once nobody does anything and nothing is worked on, no step asks for frame after frame.
#[test]
fn the_window_rests_at_every_step() {
    let mut sitting = Sitting::with_shell();
    for (key, step) in [
        (KeyCode::Digit1, Step::Scan),
        (KeyCode::Digit2, Step::Zone),
        (KeyCode::Digit3, Step::Shell),
        (KeyCode::Digit4, Step::Fit),
        (KeyCode::Digit5, Step::Material),
        (KeyCode::Digit6, Step::Print),
        (KeyCode::Digit7, Step::Show),
    ] {
        sitting.trial.press(&[], key);
        assert_eq!(sitting.trial.view().step, step);
        sitting.rests();
        // Switches slide, and panels scroll, for a moment.
        for _ in 0..60 {
            sitting.trial.frame();
            std::thread::sleep(std::time::Duration::from_millis(10));
        }
        let restless = (0..20).filter(|_| {
            sitting.trial.frame();
            sitting.trial.wants_another_frame()
        });
        assert_eq!(restless.count(), 0, "{step:?}");
    }
}

#[test]
fn the_guard_is_shown_alone_or_on_the_limb() {
    let mut sitting = Sitting::with_shell();
    sitting.trial.press(&[KeyCode::ControlLeft], KeyCode::KeyG);
    assert_eq!(sitting.trial.view().step, Step::Show);
    assert!(!sitting.trial.sees_limb());
    sitting.trial.press(&[KeyCode::ControlLeft], KeyCode::KeyG);
    assert!(sitting.trial.sees_limb());
    sitting.trial.press(&[], KeyCode::Digit6);
    assert!(!sitting.trial.sees_limb(), "on the printer's bed there is no limb");
    sitting.trial.press(&[], KeyCode::Digit4);
    assert!(sitting.trial.sees_limb());
}

/// The fit opens whole, without a plane and without its handle; the handle moves the plane once there is one.
#[test]
fn the_fit_is_first_seen_whole_and_the_handle_comes_and_goes_with_the_cut() {
    let mut sitting = Sitting::with_shell();
    sitting.trial.press(&[], KeyCode::Digit4);
    sitting.rests();
    sitting.trial.frame();
    assert!(!sitting.trial.view().fit.cut);
    // At the right of the limb, half its width and 12 mm from its middle: overlay/fit.rs.
    let eye = sitting.trial.eye().expect("a camera");
    let limb = sitting.trial.session().derived().limb.value().expect("a limb").clone();
    let (low, high) = limb.skin.bounds().expect("a limb");
    let middle = nalgebra::center(&low, &high);
    let to_eye = eye - middle;
    let right = Vector3::new(-to_eye.y, to_eye.x, 0.0).normalize();
    let plane = |sitting: &mut Sitting| sitting.trial.view().fit.plane_mm;
    let handle = |sitting: &mut Sitting| {
        let place = Point3::new(middle.x, middle.y, plane(sitting));
        sitting.seen(&(place + right * (0.5 * (high - low).xy().norm() + 12.0)))
    };
    for (cut, moves) in [(false, false), (true, true), (false, false)] {
        sitting.trial.view().fit.cut = cut;
        sitting.trial.frame();
        let (before, eye) = (plane(&mut sitting), sitting.trial.eye());
        let [x, y] = handle(&mut sitting);
        sitting.trial.drag([x, y], [x, y - 60.0]);
        assert_eq!(plane(&mut sitting) > before + 5.0, moves, "cut {cut}");
        assert_eq!(sitting.trial.eye() == eye, moves, "where there is no handle the hand turns the limb");
        sitting.trial.press(&[], KeyCode::Digit0);
        sitting.trial.frame();
    }
}

/// The box for a new number shows the athlete's.
#[test]
fn the_number_box_shows_the_squad_number() {
    let mut sitting = Sitting::with_shell_in([1280, 3000]);
    sitting.trial.session().edit("number", |design| design.squad_number = Some(23));
    sitting.steady();
    assert!(sitting.trial.texts().iter().any(|text| text.text == "23"), "the number stands in the box");
}

/// At the show step each whole look has its weight, and a press takes one: ribs, vents, edge and finish together.
#[test]
fn a_whole_look_is_weighed_and_taken() {
    let mut sitting = Sitting::with_shell();
    let before = sitting.design();
    sitting.trial.press(&[], KeyCode::Digit7);
    sitting.rests();
    let looks = sitting.trial.session().derived().looks_now(&before).expect("weighed").clone();
    assert!(looks.len() >= 8 && looks.iter().all(|look| look.volume_mm3.is_some()), "{looks:?}");
    let named = |sitting: &Sitting, name: &str| sitting.trial.texts().iter().any(|t| t.text.starts_with(name));
    assert!(looks.iter().any(|look| named(&sitting, look.on_guard.look.name)));
    sitting.trial.press(&[KeyCode::ShiftLeft], KeyCode::KeyJ);
    let taken = sitting.design();
    assert!(taken.shell != before.shell && taken.shell == looks[0].on_guard.shell);
    assert_eq!(taken.look.as_ref(), Some(&looks[0].on_guard.appearance));
    sitting.rests();
    assert!(sitting.trial.session().derived().looks_now(&taken).is_some(), "the weights hold for every look");
    sitting.trial.undo();
    sitting.trial.frame();
    assert!(sitting.design() == before, "undo takes the whole look back");
}
