//! Esc stops what runs behind the window, and what was there stays.

use bevy::prelude::KeyCode;
use scan::{BodySite, Side};
use workbench::Trial;

use crate::sitting::{Sitting, demo_scan};

/// A long step: its name, what sets it going, and whether it runs.
type LongStep = (&'static str, fn(&mut Sitting), fn(&mut Trial) -> bool);

const STEPS: [LongStep; 7] = [
    (
        "opening",
        |sitting| sitting.trial.session().open(&demo_scan("ribs-04.ply"), BodySite::Ribs, Side::Left),
        |trial| trial.session().is_opening(),
    ),
    (
        "cleaning",
        |sitting| sitting.trial.session().edit("noise", |design| design.clean.smooth *= 0.5),
        |trial| trial.session().derived().limb.is_running(),
    ),
    (
        "drawing the zone",
        |sitting| sitting.trial.session().edit("grow", |design| design.zone.grow_mm += 1.0),
        |trial| trial.session().derived().zone.is_running(),
    ),
    (
        "the first look",
        |sitting| sitting.trial.session().edit("gap", |design| design.shell.gap_mm += 0.5),
        |trial| trial.session().derived().first_look.is_running(),
    ),
    (
        "the shell",
        |sitting| sitting.trial.session().edit("wall", |design| design.shell.thickness_mm += 0.5),
        |trial| trial.session().derived().shell.is_running(),
    ),
    (
        "measuring the gap",
        |sitting| {
            sitting.trial.press(&[], KeyCode::Digit4);
            sitting.trial.session().edit("wall", |design| design.shell.thickness_mm -= 0.5);
        },
        |trial| trial.session().derived().clearance.is_running(),
    ),
    (
        "writing the print files",
        |sitting| {
            let folder = sitting.folder.path().join("stopped");
            sitting.trial.session().export(&folder, None);
        },
        |trial| trial.session().is_exporting(),
    ),
];

#[test]
fn escape_stops_each_long_step() {
    let mut sitting = Sitting::with_shell();
    for (name, begin, runs) in STEPS {
        sitting.rests();
        let opened = sitting.trial.session().opened();
        begin(&mut sitting);
        sitting.until(name, runs);
        let shell = sitting.trial.session().derived().shell.serial();
        sitting.trial.press(&[], KeyCode::Escape);
        sitting.trial.frame();
        assert!(!runs(&mut sitting.trial), "{name} runs on");
        for _ in 0..20 {
            sitting.trial.frame();
        }
        assert!(!runs(&mut sitting.trial), "{name} began again");
        let session = sitting.trial.session();
        assert_eq!((session.opened(), session.derived().shell.serial()), (opened, shell), "{name}");
        // What was stopped is made after the next change.
        session.edit("gap", |design| design.shell.gap_mm += 0.1);
    }
    assert!(!sitting.folder.path().join("stopped").exists(), "nothing half-written");
}
