//! Work of each frame of a sitting with a limb of a million triangles, without a window and without the graphics card:
//! opening, painting, building, looking at the fit, all steps, and opening another scan.
//!
//! `cargo bench -p workbench --bench frames`; a number after `--` sets the limb's rows of squares (500 make a million
//! triangles). A frame is everything that Bevy and the workbench do on the main thread between two pictures; its work
//! is the processor time of that thread, whatever else the computer does meanwhile.

#[path = "invented/sitting.rs"]
mod sitting;

use std::time::{Duration, Instant};

use sitting::{Sitting, peak_mb};
use workbench::{DrawTo, Step, Tool, Trial};

#[allow(clippy::print_stdout)]
fn main() {
    let rows = std::env::args().filter_map(|a| a.parse().ok()).next().unwrap_or(500);
    let Some(mut sitting) = Sitting::begin(rows, [1920, 1080], DrawTo::Nothing) else { return };
    let [first, stood] = open(&mut sitting);
    paint(&mut sitting);
    build(&mut sitting);
    look_at_fit(&mut sitting);
    go_through_steps(&mut sitting);
    let again = open_another(&mut sitting);
    sitting.table();
    println!(
        "\nfirst picture after {:.2} s, limb stands after {:.2} s, another one after {:.2} s; at most {} MB of memory",
        first.as_secs_f64(),
        stood.as_secs_f64(),
        again.as_secs_f64(),
        peak_mb().map_or_else(|| "unknown".to_owned(), |mb| mb.to_string())
    );
}

/// Opens the scan; the times until anything of it was seen and until the limb stood.
fn open(sitting: &mut Sitting) -> [Duration; 2] {
    let start = Instant::now();
    sitting.open();
    let mut first = None;
    sitting.until("opening, until the limb stands", |trial| {
        if first.is_none() && trial.shows_scan() {
            first = Some(start.elapsed());
        }
        trial.shows_limb()
    });
    let stood = start.elapsed();
    sitting.until("until all is known of the limb", |trial| trial.session().progress().is_empty());
    sitting.frames("at rest", 30);
    [first.unwrap_or(stood), stood]
}

fn paint(sitting: &mut Sitting) {
    sitting.step(Step::Zone);
    sitting.trial.view().tool = Tool::Paint;
    sitting.frames("at rest in the zone step", 30);
    for radius_mm in [6.0, 12.0, 30.0, 80.0] {
        sitting.paint(&format!("painting, brush of {radius_mm} mm"), radius_mm, 240);
        sitting.until(&format!("after it, brush of {radius_mm} mm"), |trial| trial.session().progress().is_empty());
        sitting.undo("taken back");
    }
    sitting.paint("painting what is to be covered", 24.0, 200);
    sitting.until("until there is a zone", |trial| trial.session().derived().zone.value().is_some());
}

fn is_built(trial: &mut Trial) -> bool {
    let session = trial.session();
    session.design().is_some_and(|design| session.derived().shell_is_current(design))
}

fn build(sitting: &mut Sitting) {
    sitting.step(Step::Shell);
    sitting.until("first look is built", |trial| trial.shows_shell());
    sitting.until("fine shell is built", is_built);
    sitting.frames("at rest in the shell step", 30);
    for i in 0..40_u8 {
        let mm = 2.5 + 0.05 * f32::from(i);
        sitting.trial.session().edit_live("wall", |design| design.shell.thickness_mm = mm);
        sitting.frames("wall is being dragged", 1);
    }
    sitting.trial.session().settle();
    sitting.until("built anew", is_built);
}

fn look_at_fit(sitting: &mut Sitting) {
    sitting.step(Step::Fit);
    sitting.until("gap is measured and put into colours", |trial| {
        let session = trial.session();
        session.design().is_some_and(|design| session.derived().clearance_now(design).is_some())
    });
    sitting.frames("gap in colours, cut open, at rest", 30);
    if let Some((low, high)) = sitting.trial.view().fit.range_mm {
        for i in 0..60_u8 {
            let share = 0.5 + 0.45 * (f32::from(i) * 0.2).sin();
            sitting.trial.view().fit.plane_mm = low + (high - low) * share;
            sitting.frames("plane is being dragged", 1);
        }
    }
    sitting.trial.view().fit.limb = 0.3;
    sitting.frames("limb is seen through", 20);
}

fn go_through_steps(sitting: &mut Sitting) {
    for step in [Step::Material, Step::Print, Step::Show] {
        sitting.step(step);
        sitting.frames(&format!("at rest in the {} step", step.name().to_lowercase()), 30);
    }
    sitting.trial.session().edit("pattern", |design| {
        let art = locker::Art::Pattern { kind: locker::PatternKind::Dots, colour: [200, 60, 40] };
        let laid = locker::Laid::Round;
        let artwork = locker::Artwork { art, laid, front_deg: 0.0, width_mm: 40.0, shift_mm: [0.0, 0.0] };
        design.look.get_or_insert_default().artwork = Some(artwork);
    });
    sitting.frames("pattern is laid on", 60);
    for step in Step::ALL.into_iter().rev().chain(Step::ALL) {
        sitting.step(step);
    }
    sitting.undo("last change taken back");
}

/// Opens another scan; how long until its limb stood.
fn open_another(sitting: &mut Sitting) -> Duration {
    sitting.save();
    sitting.open();
    let start = Instant::now();
    sitting.frames("another scan is opened", 5);
    sitting.until("another scan, until the limb stands", |trial| !trial.session().is_opening() && trial.shows_limb());
    let stood = start.elapsed();
    sitting.until("and all is known of it", |trial| trial.session().progress().is_empty());
    stood
}
