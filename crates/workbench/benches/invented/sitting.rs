//! A sitting with a synthetic limb, and the work of its frames.

// Each bench uses a part of it.
#![allow(dead_code)]

use std::path::PathBuf;
use std::time::{Duration, Instant};

use cpu_time::ThreadTime;
use scan::{BodySite, Side};
use session::{Places, Session};
use tempfile::TempDir;
use workbench::{DrawTo, Step, Tool, Trial};

/// Frames come no faster than this.
const TICK: Duration = Duration::from_micros(16_667);
/// Longest wait for one thing.
const LONGEST: Duration = Duration::from_secs(300);

/// One frame, ms.
#[derive(Clone, Copy)]
struct Frame {
    /// Time that the processor spent on it.
    work: f64,
    /// Time by the clock, including what other threads and programs took of the processor.
    clock: f64,
}

/// A sitting.
pub struct Sitting {
    /// The workbench.
    pub trial: Trial,
    folder: TempDir,
    scan: PathBuf,
    /// Each frame by what went on.
    work: Vec<(String, Vec<Frame>)>,
}

#[allow(clippy::print_stdout)]
impl Sitting {
    /// Begins it with a scan of `rows` rows in a file.
    pub fn begin(rows: u32, size: [u32; 2], drawn: DrawTo) -> Option<Self> {
        session::lower_worker_priority();
        let folder = tempfile::tempdir().ok()?;
        let scan = folder.path().join("limb.stl");
        let mesh = test_shapes::limb(rows).build::<mesh::Mesh>();
        mesh::write::save_atomic(&scan, |out| mesh::write::stl_binary(&mesh, "invented", out)).ok()?;
        println!("a limb of {} triangles", mesh.triangles.len());
        drop(mesh);
        let session = Session::begin(Places::inside(folder.path())).map_err(|p| println!("{}", p.sentence)).ok()?;
        Some(Self { trial: Trial::begin(session, size, drawn), folder, scan, work: Vec::new() })
    }

    /// Opens the scan.
    pub fn open(&mut self) {
        self.trial.session().open(&self.scan, BodySite::Shin, Side::Left);
    }

    /// Saves the design.
    pub fn save(&mut self) {
        let path = self.folder.path().join("guard.json");
        let work = ThreadTime::now();
        let clock = Instant::now();
        self.trial.session().save_as(&path);
        self.note("saved", Frame { work: ms(work.elapsed()), clock: ms(clock.elapsed()) });
        self.until("saved", |trial| !trial.session().is_saving());
    }

    /// Some frames in which `what` goes on.
    pub fn frames(&mut self, what: &str, count: usize) {
        for _ in 0..count {
            self.one(what);
        }
    }

    /// Frames until `done`.
    pub fn until(&mut self, what: &str, mut done: impl FnMut(&mut Trial) -> bool) {
        let start = Instant::now();
        while !done(&mut self.trial) {
            self.one(what);
            if let Some(problem) = self.trial.session().derived().problem() {
                println!("{what}: {}", problem.sentence);
                return;
            }
            if start.elapsed() > LONGEST {
                println!("{what}: not done after {} s", LONGEST.as_secs());
                return;
            }
        }
        // Two more frames put the last results on the stage.
        self.frames(what, 2);
    }

    /// Goes to a step.
    pub fn step(&mut self, step: Step) {
        self.trial.view().step = step;
        self.frames("first frames of a step", 3);
    }

    /// Takes the last change back.
    pub fn undo(&mut self, what: &str) {
        self.trial.undo();
        self.frames(what, 10);
        self.until(what, |trial| trial.session().progress().is_empty());
    }

    /// Paints to and fro over the front of the limb.
    pub fn paint(&mut self, what: &str, radius_mm: f32, frames: u16) {
        let [left, top, width, height] = self.trial.stage();
        self.trial.view().tool = Tool::Paint;
        self.trial.view().brush_mm = radius_mm;
        let place = |i: u16| {
            let turn = f32::from(i) / 40.0 * std::f32::consts::TAU;
            let down = f32::from(i) / f32::from(frames) - 0.5;
            [left + 0.5 * width + 0.03 * width * turn.sin(), top + 0.5 * height + 0.3 * height * down]
        };
        let [x, y] = place(0);
        self.trial.move_to(x, y);
        self.frames("brush over the limb", 2);
        self.trial.button(true);
        for i in 0..frames {
            let [x, y] = place(i);
            self.trial.move_to(x, y);
            self.one(what);
        }
        self.trial.button(false);
        self.one(what);
    }

    fn one(&mut self, what: &str) {
        let work = ThreadTime::now();
        let took = self.trial.frame();
        self.note(what, Frame { work: ms(work.elapsed()), clock: ms(took) });
        std::thread::sleep(TICK.saturating_sub(took));
    }

    fn note(&mut self, what: &str, frame: Frame) {
        match self.work.iter_mut().find(|(name, _)| name == what) {
            Some((_, all)) => all.push(frame),
            None => self.work.push((what.to_owned(), vec![frame])),
        }
    }

    /// Prints the table.
    pub fn table(&self) {
        println!("{:<40} {:>6} {:^26}   {:^17}", "", "", "work, ms", "on the clock, ms");
        println!(
            "{:<40} {:>6} {:>8} {:>8} {:>8}   {:>8} {:>8}",
            "", "frames", "middle", "99 %", "worst", "99 %", "worst"
        );
        let all: Vec<Frame> = self.work.iter().flat_map(|(_, frames)| frames).copied().collect();
        self.work.iter().for_each(|(name, frames)| line(name, frames));
        line("all", &all);
    }
}

#[allow(clippy::print_stdout)]
fn line(name: &str, frames: &[Frame]) {
    let sorted = |of: fn(&Frame) -> f64| {
        let mut all: Vec<f64> = frames.iter().map(of).collect();
        all.sort_by(f64::total_cmp);
        all
    };
    let (work, clock) = (sorted(|f| f.work), sorted(|f| f.clock));
    let at = |all: &[f64], share: usize| all.get((all.len() * share / 100).min(all.len() - 1)).copied().unwrap_or(0.0);
    println!(
        "{name:<40} {:>6} {:>8.2} {:>8.2} {:>8.2}   {:>8.2} {:>8.2}",
        frames.len(),
        at(&work, 50),
        at(&work, 99),
        at(&work, 100),
        at(&clock, 99),
        at(&clock, 100)
    );
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

/// Peak memory of this program so far, MB; none where the system does not report it.
pub fn peak_mb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let kb: u64 = status.lines().find_map(|l| l.strip_prefix("VmHWM:"))?.split_whitespace().next()?.parse().ok()?;
    Some(kb / 1000)
}
