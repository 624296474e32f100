//! A whole sitting without a window: open, paint, build, change, undo, save, and what a crash leaves.
#![allow(clippy::print_stdout)]

mod shared;

use std::path::Path;

use scan::{BodySite, Side};
use session::{Note, Places, Session};
use shared::{demo, paint, until, with_shin};
use zone::Source;

/// Polls until the current design has been autosaved.
fn until_autosaved(session: &mut Session, places: &Places) {
    let design = session.design().expect("a design").clone();
    let file = places.recovery.join("0").join("design.json");
    let written = || locker::load_design(&file).is_ok_and(|written| written == design);
    until(session, "the autosave", |_| written());
}

#[test]
fn the_raw_scan_is_there_before_it_is_clean_and_gone_after() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = Session::begin(Places::inside(folder.path())).unwrap();
    session.open(&demo("shin-23.obj"), BodySite::Shin, Side::Left);
    let mut seen = None;
    until(&mut session, "the limb", |s| {
        seen = s.raw_scan().or_else(|| seen.take());
        s.document().is_some()
    });
    let raw = seen.expect("it was to be seen while it was cleaned");
    assert_eq!(raw.mesh.points.len(), session.document().unwrap().scan().scan.mesh.points.len());
    assert_eq!(raw.normals.len(), raw.mesh.points.len());
    let (low, high) = raw.mesh.bounds().unwrap();
    // A shin without its foot is some 300 to 400 mm long (sizes: crates/demo-limbs/src/sizes.rs).
    assert!((250.0..450.0).contains(&(high - low).max()), "{}", (high - low).max());
    assert!(session.raw_scan().is_none());
}

fn save(session: &mut Session, path: &Path) {
    session.save_as(path);
    let notes = until(session, "the save", |s| !s.is_saving());
    assert!(notes.iter().any(|note| matches!(note, Note::Saved(at) if at == path)), "{notes:?}");
    assert!(!session.document().expect("a document").is_unsaved());
}

#[test]
fn a_painted_zone_becomes_a_shell_and_undo_takes_it_back() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = with_shin(&Places::inside(folder.path()));
    assert!(session.document().unwrap().is_unsaved());
    paint(&mut session, 45.0);
    until(&mut session, "the shell", |s| s.derived().shell_is_current(s.design().unwrap()));
    let thin = session.derived().best_shell(session.design().unwrap()).unwrap().mesh.volume_mm3();
    session.edit("thickness", |design| design.shell.thickness_mm = 5.0);
    until(&mut session, "the thicker shell", |s| s.derived().shell_is_current(s.design().unwrap()));
    let thick = session.derived().best_shell(session.design().unwrap()).unwrap().mesh.volume_mm3();
    // The wall alone grows to 5 / 3 of its volume; ribs and rim do not.
    assert!(thick / thin > 1.3 && thick / thin < 1.8, "{}", thick / thin);
    assert_eq!(session.undo().as_deref(), Some("thickness"));
    assert_eq!(session.undo().as_deref(), Some("paint"));
    assert_eq!(session.undo(), None);
    session.poll();
    assert!(session.derived().zone.value().is_none());
}

#[test]
fn a_setting_that_cannot_be_built_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = with_shin(&Places::inside(folder.path()));
    paint(&mut session, 40.0);
    session.edit("rim", |design| design.shell.rim.round_mm = 2.5);
    until(&mut session, "the problem", |s| s.derived().problem().is_some());
    assert_eq!(session.derived().problem().unwrap().setting.as_deref(), Some("shell.rim.round_mm"));
    session.undo();
    until(&mut session, "the shell", |s| s.derived().shell_is_current(s.design().unwrap()));
    assert!(session.derived().problem().is_none());
}

#[test]
fn what_is_painted_stays_on_the_skin_when_left_and_right_are_swapped() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = with_shin(&Places::inside(folder.path()));
    paint(&mut session, 40.0);
    until(&mut session, "the zone", |s| s.derived().zone.value().is_some());
    let area =
        |s: &Session| s.derived().zone.value().unwrap().covered.area_mm2(&s.derived().limb.value().unwrap().skin);
    let before = area(&session);
    let serial = session.derived().zone.serial();
    session.edit("mirror", |design| design.clean.mirror = true);
    until(&mut session, "the mirrored zone", |s| s.derived().zone.serial() > serial);
    assert!(session.design().unwrap().placement.mirrored);
    assert!((area(&session) / before - 1.0).abs() < 0.01, "{} {before}", area(&session));
    session.undo();
    assert!(!session.design().unwrap().placement.mirrored);
}

#[test]
fn a_crash_loses_nothing_and_a_save_is_complete() {
    let folder = tempfile::tempdir().unwrap();
    let places = Places::inside(folder.path());
    let mut session = with_shin(&places);
    paint(&mut session, 40.0);
    let painted = session.design().unwrap().clone();
    until_autosaved(&mut session, &places);
    // As after a crash: the lock goes, nothing is tidied.
    drop(session);

    let mut session = Session::begin(places.clone()).unwrap();
    let unsaved = session.unsaved_designs()[0].clone();
    session.restore(&unsaved);
    assert_eq!(session.unsaved_designs(), [unsaved], "offered until it is open");
    until(&mut session, "the recovered design", |s| s.document().is_some());
    assert!(session.unsaved_designs().is_empty());
    assert_eq!(session.design().unwrap(), &painted);
    assert!(session.document().unwrap().is_unsaved());

    let saved = folder.path().join("team").join("shin.json");
    std::fs::create_dir_all(saved.parent().unwrap()).unwrap();
    save(&mut session, &saved);
    session.end();

    let mut session = Session::begin(places).unwrap();
    assert!(session.unsaved_designs().is_empty());
    assert_eq!(session.preferences.recent, vec![saved.clone()]);
    session.open(&saved, BodySite::Other, Side::Unknown);
    until(&mut session, "the saved design", |s| s.document().is_some());
    assert_eq!(session.design().unwrap(), &painted);
}

#[test]
fn two_programs_at_once_do_not_share_unsaved_work() {
    let folder = tempfile::tempdir().unwrap();
    let places = Places::inside(folder.path());
    let first = with_shin(&places);
    let second = Session::begin(places.clone()).unwrap();
    assert!(second.unsaved_designs().is_empty());
    drop((first, second));
}

#[test]
fn work_taken_up_over_a_saved_design_is_still_unsaved() {
    let folder = tempfile::tempdir().unwrap();
    let places = Places::inside(folder.path());
    let mut session = with_shin(&places);
    assert!(!session.document().unwrap().would_be_missed(), "a scan just opened");
    paint(&mut session, 40.0);
    assert!(session.document().unwrap().would_be_missed());
    let saved = folder.path().join("shin.json");
    save(&mut session, &saved);
    assert!(!session.document().unwrap().would_be_missed());
    session.edit("title", |design| design.title = "Changed".into());
    until_autosaved(&mut session, &places);
    drop(session);

    let mut session = Session::begin(places.clone()).unwrap();
    let unsaved = session.unsaved_designs()[0].clone();
    assert_eq!(unsaved.saved_as.as_deref(), Some(saved.as_path()));
    session.restore(&unsaved);
    until(&mut session, "the recovered design", |s| s.document().is_some());
    assert_eq!(session.design().unwrap().title, "Changed");
    assert!(session.document().unwrap().would_be_missed());
    assert!(session.save(), "it goes where it was saved before");
    until(&mut session, "the save", |s| !s.is_saving());
    assert!(!session.document().unwrap().is_unsaved());
    assert_eq!(locker::load_design(&saved).unwrap().title, "Changed");
}

#[test]
fn the_demo_is_a_shin_with_half_of_its_mark_painted() {
    let folder = tempfile::tempdir().unwrap();
    let places = Places::inside(folder.path());
    let mut session = Session::begin(places.clone()).unwrap();
    session.open_demo();
    until(&mut session, "the zone", |s| s.derived().zone.value().is_some());
    assert_eq!(session.design().unwrap().squad_number, Some(23));
    assert!(!session.document().unwrap().would_be_missed());
    session.end();
    let session = Session::begin(places).unwrap();
    assert!(session.unsaved_designs().is_empty());
}

#[test]
fn what_changes_while_it_is_saved_stays_unsaved_and_saves_keep_their_order() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = with_shin(&Places::inside(folder.path()));
    paint(&mut session, 40.0);
    let (one, two) = (folder.path().join("one.json"), folder.path().join("two.json"));
    session.save_as(&one);
    session.edit("title", |design| design.title = "Second".into());
    session.save_as(&two);
    session.save_as(&one);
    session.edit("title", |design| design.title = "Third".into());
    assert!(session.is_saving());
    let notes = until(&mut session, "all saves", |s| !s.is_saving());
    let order: Vec<_> =
        notes.iter().filter_map(|n| if let Note::Saved(path) = n { Some(path) } else { None }).collect();
    assert_eq!(order, [&one, &two, &one]);
    for path in [&one, &two] {
        assert_eq!(locker::load_design(path).unwrap().title, "Second");
    }
    assert!(session.document().unwrap().would_be_missed(), "the third title is nowhere saved");
    assert_eq!(session.document().unwrap().path(), Some(one.as_path()));
    let nowhere = folder.path().join("missing").join("three.json");
    std::fs::write(folder.path().join("missing"), "a file").unwrap();
    session.save_as(&nowhere);
    let notes = until(&mut session, "the refusal", |s| !s.is_saving());
    assert!(notes.iter().any(|n| matches!(n, Note::NotSaved(_))), "{notes:?}");
}

#[test]
fn work_given_up_for_another_design_is_not_offered_again() {
    let folder = tempfile::tempdir().unwrap();
    let places = Places::inside(folder.path());
    let mut session = with_shin(&places);
    let saved = folder.path().join("shin.json");
    save(&mut session, &saved);
    paint(&mut session, 40.0);
    let autosaved = || places.recovery.join("0").join("design.json").exists();
    until_autosaved(&mut session, &places);
    session.open(&saved, BodySite::Other, Side::Unknown);
    until(&mut session, "the saved design", |s| !s.is_opening());
    assert!(!autosaved());
    drop(session);
    assert!(Session::begin(places).unwrap().unsaved_designs().is_empty());
}

/// Flag, placement and limb say the same, and the dab lies on the skin.
fn agrees(session: &Session) -> bool {
    let (design, limb) = (session.design().expect("a design"), session.derived().limb.value().expect("a limb"));
    let Some(Source::Strokes { dabs }) = design.zone.sources.first() else { return false };
    let off = limb.skin.nearest(&dabs[0].at_mm, None).expect("skin").distance2.sqrt();
    // Triangles that face outward give a positive volume by the divergence theorem.
    design.placement == limb.placement
        && design.placement.mirrored == design.clean.mirror
        && off < 0.5
        && limb.skin.mesh().volume_mm3() > 0.0
}

#[test]
fn undo_and_redo_before_a_mirrored_limb_is_there_keep_flag_and_limb_together() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = with_shin(&Places::inside(folder.path()));
    paint(&mut session, 40.0);
    let settled = |session: &mut Session, what: &str| {
        until(session, what, |s| s.derived().limb.progress().is_none());
        assert!(agrees(session), "{what}");
    };
    settled(&mut session, "the limb");
    // Undone before the mirrored limb is there, redone afterwards.
    session.edit("mirror", |design| design.clean.mirror = true);
    session.undo();
    settled(&mut session, "undone at once");
    session.redo();
    settled(&mut session, "done again");
    assert!(session.design().unwrap().clean.mirror);
    session.undo();
    settled(&mut session, "undone");
    // Another change on top of the mirror before its limb is there.
    session.edit("mirror", |design| design.clean.mirror = true);
    session.edit("title", |design| design.title = "Mirrored".into());
    settled(&mut session, "mirrored and named");
    session.undo();
    settled(&mut session, "mirrored");
    assert!(session.design().unwrap().clean.mirror);
    session.undo();
    settled(&mut session, "as at first");
    session.redo();
    session.redo();
    settled(&mut session, "at the end again");
    // The axes of an upright limb are known only once it has been cleaned.
    session.edit("upright", |design| design.clean.upright = false);
    session.edit("title", |design| design.title = "As it came".into());
    settled(&mut session, "as it came, and named");
    let lying = session.design().unwrap().placement;
    session.undo();
    settled(&mut session, "as it came");
    assert_eq!(session.design().unwrap().placement, lying);
    session.undo();
    settled(&mut session, "upright");
    assert!(session.design().unwrap().placement != lying);
}

#[test]
fn a_design_saved_before_its_mirrored_limb_is_there_opens_whole() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = with_shin(&Places::inside(folder.path()));
    paint(&mut session, 40.0);
    let saved = folder.path().join("shin.json");
    session.edit("mirror", |design| design.clean.mirror = true);
    session.stop();
    save(&mut session, &saved);
    assert!(session.derived().limb.value().unwrap().placement != session.design().unwrap().placement, "in between");
    session.open(&saved, BodySite::Other, Side::Unknown);
    until(&mut session, "the design", |s| !s.is_opening());
    assert!(agrees(&session));
}

#[test]
fn said_in_another_unit_the_dab_stays_on_the_skin() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = with_shin(&Places::inside(folder.path()));
    paint(&mut session, 40.0);
    let bounds = |s: &Session| s.derived().limb.value().unwrap().skin.mesh().bounds().unwrap();
    let (low, high) = bounds(&session);
    session.edit("unit", |design| design.clean.unit = Some(scan::Unit::Cm));
    // A shin ten times as large cannot be cleaned; undo must work all the same.
    session.undo();
    until(&mut session, "the limb", |s| s.derived().limb.progress().is_none());
    assert!(agrees(&session));
    session.edit("unit", |design| design.clean.unit = Some(scan::Unit::Inch));
    session.edit("unit", |design| design.clean.unit = Some(scan::Unit::Mm));
    until(&mut session, "the limb", |s| s.derived().limb.progress().is_none());
    assert!(agrees(&session));
    let (back_low, back_high) = bounds(&session);
    assert!((back_low - low).norm() < 0.01 && (back_high - high).norm() < 0.01);
}

#[test]
fn the_unit_is_asked_for_until_somebody_says_it() {
    let folder = tempfile::tempdir().unwrap();
    // A forearm 12 long: 305 mm in inches, 120 mm in centimetres.
    let text = std::fs::read_to_string(demo("shin-23.obj")).unwrap();
    let numbers = |line: &str| -> Vec<f64> { line.split(' ').skip(1).map(|n| n.parse().unwrap()).collect() };
    let vertices: Vec<Vec<f64>> = text.lines().filter(|l| l.starts_with("v ")).map(numbers).collect();
    let spread = |k: usize| {
        let all = vertices.iter().map(|v| v[k]);
        all.clone().fold(f64::NEG_INFINITY, f64::max) - all.fold(f64::INFINITY, f64::min)
    };
    let scale = 12.0 / (0..3).map(spread).fold(0.0, f64::max);
    let small: String = text
        .lines()
        .filter_map(|line| match line.split_once(' ') {
            Some(("v", _)) => {
                let v = numbers(line);
                Some(format!("v {} {} {}\n", v[0] * scale, v[1] * scale, v[2] * scale))
            }
            Some(("f", _)) => Some(format!("{line}\n")),
            _ => None,
        })
        .collect();
    let scan = folder.path().join("small.obj");
    std::fs::write(&scan, small).unwrap();
    let places = Places::inside(folder.path());
    let mut session = Session::begin(places).unwrap();
    session.open(&scan, BodySite::Forearm, Side::Left);
    until(&mut session, "the limb", |s| s.document().is_some());
    let sure = |s: &Session| s.derived().limb.value().unwrap().report.unit.sure;
    assert!(!sure(&session) && session.design().unwrap().clean.unit.is_none());
    let serial = session.derived().limb.serial();
    session.edit("cleaning", |design| design.clean.smooth = 0.0);
    until(&mut session, "the limb cleaned otherwise", |s| s.derived().limb.serial() > serial);
    assert!(!sure(&session), "nobody has said it yet");
    let guessed = session.derived().limb.value().unwrap().report.unit.unit;
    let serial = session.derived().limb.serial();
    session.edit("unit", |design| design.clean.unit = Some(guessed));
    until(&mut session, "the limb in the unit that was said", |s| s.derived().limb.serial() > serial);
    assert!(sure(&session));
}
