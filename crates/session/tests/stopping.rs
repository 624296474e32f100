//! Stop, or a new edit, while a long step runs: the step ends, and nothing half-made is kept.
#![allow(clippy::print_stdout)]

mod shared;

use std::sync::Arc;

use scan::{BodySite, Side};
use session::{Note, Places, Session};
use shared::{demo, paint, until, with_shin};

/// Serials of what follows from the design.
fn serials(session: &Session) -> [u64; 6] {
    let d = session.derived();
    [d.limb.serial(), d.pen.serial(), d.zone.serial(), d.first_look.serial(), d.shell.serial(), d.clearance.serial()]
}

/// A change of the design that sets a step going, and whether that step runs.
type Step = (&'static str, fn(&mut Session), fn(&Session) -> bool);

const STEPS: [Step; 5] = [
    ("clean", |s| s.edit("noise", |design| design.clean.smooth *= 0.5), |s| s.derived().limb.is_running()),
    ("zone", |s| s.edit("grow", |design| design.zone.grow_mm += 1.0), |s| s.derived().zone.is_running()),
    ("first look", |s| s.edit("gap", |design| design.shell.gap_mm += 0.5), |s| s.derived().first_look.is_running()),
    ("shell", |s| s.edit("thickness", |design| design.shell.thickness_mm += 0.5), |s| s.derived().shell.is_running()),
    (
        "clearance",
        |s| s.edit("thickness", |design| design.shell.thickness_mm += 0.5),
        |s| s.derived().clearance.is_running(),
    ),
];

fn settled(session: &Session) -> bool {
    let derived = session.derived();
    derived.shell_is_current(session.design().expect("a design"))
        && derived.clearance_now(session.design().expect("a design")).is_some()
}

fn made(folder: &std::path::Path) -> Session {
    let mut session = with_shin(&Places::inside(folder));
    session.edit("coarse", |design| design.resolution_mm = 1.5);
    session.look_at_fit(Some(0.0));
    paint(&mut session, 35.0);
    until(&mut session, "the shell and its gap", settled);
    session
}

#[test]
fn stop_ends_each_step_and_leaves_what_was_there() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = made(folder.path());
    for (name, change, runs) in STEPS {
        change(&mut session);
        until(&mut session, name, runs);
        let before = serials(&session);
        let shell = session.derived().shell.value().cloned().unwrap();
        session.stop();
        assert!(!runs(&session) && session.derived().progress().is_empty(), "{name}");
        for _ in 0..50 {
            session.poll();
        }
        assert_eq!(serials(&session), before, "{name} was taken in all the same, or began again by itself");
        assert!(Arc::ptr_eq(&shell, session.derived().shell.value().unwrap()), "{name}");
        assert!(session.derived().problem().is_none(), "{name}: a stop is no problem to be told");
        // Asked for again by the next change, it is whole.
        session.undo();
        until(&mut session, "all of it", settled);
    }
}

#[test]
fn what_was_stopped_is_made_after_any_change() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = made(folder.path());
    for (name, change, runs) in STEPS {
        change(&mut session);
        until(&mut session, name, runs);
        session.stop();
        session.edit("title", |design| design.title.push('!'));
        until(&mut session, "all of it", settled);
    }
}

#[test]
fn a_new_edit_takes_the_place_of_each_step_that_runs() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = made(folder.path());
    for (name, change, runs) in STEPS {
        change(&mut session);
        until(&mut session, name, runs);
        change(&mut session);
        let newest = session.design().unwrap().clone();
        until(&mut session, name, settled);
        assert_eq!(session.design().unwrap(), &newest, "{name}");
    }
    // The result of all edits is what the last design gives by itself.
    let shell = session.derived().shell.value().cloned().unwrap();
    let (limb, zone) = (session.derived().limb.value().unwrap(), session.derived().zone.value().unwrap());
    let design = session.design().unwrap();
    let quality = shell::Quality { voxel_mm: design.resolution_mm, tolerance_mm: design.tolerance_mm };
    let alone = shell::build(&limb.skin, zone, &design.shell, &quality, &mesh::Job::silent()).unwrap();
    assert_eq!(shell.mesh, alone.mesh);
}

#[test]
fn stop_while_a_scan_opens_leaves_what_was_open() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = with_shin(&Places::inside(folder.path()));
    let design = session.design().unwrap().clone();
    session.open(&demo("forearm-07.ply"), BodySite::Forearm, Side::Left);
    until(&mut session, "the raw scan", |s| s.raw_scan().is_some());
    session.stop();
    assert!(!session.is_opening() && session.raw_scan().is_none());
    for _ in 0..50 {
        session.poll();
    }
    assert_eq!(session.design().unwrap(), &design);
    assert!(session.take_notes().iter().all(|note| !matches!(note, Note::Opened(_) | Note::Problem(_))));
}

#[test]
fn stop_while_files_are_written_leaves_all_or_none() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = made(folder.path());
    let out = folder.path().join("out");
    let said = ["reading", "making the surface", "drawing", "packing the shell", "writing the files"];
    for what in said {
        session.export(&out, None);
        until(&mut session, what, |s| {
            !s.is_exporting() || s.progress().iter().any(|progress| progress.what.contains(what))
        });
        session.stop();
        assert!(!session.is_exporting());
        // Its thread has ended once the folder is gone or has all files of the guard.
        let names = || -> Vec<String> {
            let entries = std::fs::read_dir(&out).into_iter().flatten().flatten();
            entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect()
        };
        let whole = || names().iter().any(|name| name.ends_with("report.json"));
        while out.exists() && !whole() {
            std::thread::yield_now();
        }
        if out.exists() {
            assert!(!names().iter().any(|name| name.starts_with(".writing")), "{what}: {:?}", names());
            std::fs::remove_dir_all(&out).unwrap();
        }
    }
}
