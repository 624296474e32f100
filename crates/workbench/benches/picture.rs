//! Pictures a second of the whole window at 1920 × 1080 with a limb of a million triangles, the shell and the gap in
//! colours, drawn by the graphics card (or a software driver) into an off-screen image.
//!
//! `cargo bench -p workbench --bench picture`; after `--` the limb's rows of squares (500 make a million triangles) and
//! the seconds for each measurement. Each picture is finished before the next begins.

#[path = "invented/sitting.rs"]
mod sitting;

use std::time::{Duration, Instant};

use sitting::{Sitting, peak_mb};
use workbench::{DrawTo, Step, Tool, Trial};

#[allow(clippy::print_stdout)]
fn main() {
    let mut numbers = std::env::args().filter_map(|a| a.parse::<u32>().ok());
    let (rows, seconds) = (numbers.next().unwrap_or(500), numbers.next().unwrap_or(10));
    let time = Duration::from_secs(u64::from(seconds));
    let Some(mut sitting) = Sitting::begin(rows, [1920, 1080], DrawTo::Image) else { return };
    println!("drawn by {}", sitting.trial.adapter().unwrap_or_else(|| "nothing".to_owned()));
    sitting.open();
    sitting.until("opening", |trial| trial.shows_limb());
    sitting.until("opening", |trial| trial.session().progress().is_empty());
    turn("limb", &mut sitting.trial, time);
    sitting.step(Step::Zone);
    sitting.trial.view().tool = Tool::Paint;
    sitting.paint("painting", 24.0, 200);
    sitting.until("zone", |trial| trial.session().derived().zone.value().is_some());
    sitting.step(Step::Shell);
    sitting.until("shell", |trial| {
        let session = trial.session();
        session.design().is_some_and(|design| session.derived().shell_is_current(design))
    });
    turn("limb and shell", &mut sitting.trial, time);
    sitting.step(Step::Fit);
    sitting.trial.view().fit.cut = false;
    sitting.until("gap", |trial| {
        let session = trial.session();
        session.design().is_some_and(|design| session.derived().clearance_now(design).is_some())
    });
    sitting.frames("gap", 20);
    turn("limb, shell and the gap in colours", &mut sitting.trial, time);
    sitting.trial.view().fit.limb = 0.3;
    turn("the same, seen through the limb", &mut sitting.trial, time);
    sitting.trial.view().fit.limb = 1.0;
    sitting.trial.view().fit.cut = true;
    sitting.frames("cut", 20);
    turn("the same, cut open", &mut sitting.trial, time);
    if let Some(path) = std::env::args().find(|a| a.to_lowercase().ends_with(".png")) {
        let said = sitting.trial.save_picture(std::path::Path::new(&path));
        println!("{}", said.map_or_else(|e| e, |()| path));
    }
    println!("at most {} MB of memory", peak_mb().map_or_else(|| "unknown".to_owned(), |mb| mb.to_string()));
    sitting.table();
}

/// Turns the limb for a while and counts the pictures.
#[allow(clippy::print_stdout)]
fn turn(what: &str, trial: &mut Trial, time: Duration) {
    // What was just put on the stage is sent to the card first.
    for _ in 0..5 {
        trial.frame();
    }
    let start = Instant::now();
    let mut took = Vec::new();
    while start.elapsed() < time {
        trial.turn(0.02);
        took.push(trial.frame().as_secs_f64() * 1e3);
    }
    let seconds = start.elapsed().as_secs_f64();
    took.sort_by(f64::total_cmp);
    println!(
        "{what}: {} pictures in {seconds:.1} s, {:.1} a second; one takes {:.2} ms in the middle, {:.2} ms in 99 of 100",
        took.len(),
        took.len() as f64 / seconds,
        took[took.len() / 2],
        took[took.len() * 99 / 100]
    );
}
