//! How soon each long step answers when it is cancelled, as a table in Markdown:
//! `cancel [--rows N] [--moments N] [--seed S] [--only WORD] [--places yes]`
//!
//! Makes its own scans in a temporary folder. By default the limb has a million triangles (`--rows 500`).
//!
//! Each step runs on one thread to its end while the processor time between looks at the cancel flag is measured; the
//! longest gap is printed. Then it runs on all threads several times, cancelled at moments spread over its duration,
//! and how long it goes on is measured by the clock and in processor time of all threads. On a busy machine the clock
//! shows too much.
#![allow(clippy::print_stdout)]

#[path = "../shared/chance.rs"]
mod chance;
mod gaps;
mod scans;
mod steps;

use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use chance::Chance;
use cpu_time::ProcessTime;
use gaps::Gaps;
use mesh::Job;
use rayon::ThreadPool;
use steps::{Fineness, Result, Step, Steps};

/// Longest answer to a cancel that is promised, ms.
const PROMISED_MS: f64 = 200.0;

/// A limb of a million triangles, with the usual settings.
const MILLION: Fineness = Fineness { rows: 500, edge_mm: 1.5, voxel_mm: 0.5, paper_mm: 297.0, sheet: 1600, frames: 36 };

/// What the user asked for.
struct Asked {
    moments: u32,
    places: bool,
    one_thread: ThreadPool,
}

fn main() -> Result<()> {
    let mut fineness = MILLION;
    let (mut moments, mut seed, mut only, mut places) = (20, 1, String::new(), false);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().ok_or_else(|| format!("{word} wants a value"))?;
        match word.as_str() {
            "--rows" => fineness.rows = value.parse()?,
            "--moments" => moments = value.parse()?,
            "--seed" => seed = value.parse()?,
            "--only" => only = value,
            "--places" => places = value == "yes",
            _ => return Err(format!("{word} is not known; see the first lines of this program's source").into()),
        }
    }
    let steps = Steps::new(fineness)?;
    let one_thread = rayon::ThreadPoolBuilder::new().num_threads(1).build()?;
    let asked = Asked { moments, places, one_thread };
    let mut chance = Chance::new(seed, 0);
    println!("| step | takes, s | cancelled | answers within, ms by the clock | of the processor | longest gap, ms |");
    println!("|---|---|---|---|---|---|");
    let mut late = 0;
    for (name, step) in steps.all() {
        if name.contains(&only) {
            late += usize::from(try_out(name, &*step, &asked, &mut chance)?);
        }
    }
    println!("\n{late} steps went on for longer than {PROMISED_MS} ms, or may");
    Ok(())
}

/// One cancelled run.
struct Stopped {
    clock_ms: f64,
    processor_ms: f64,
    said: String,
}

/// Prints the line of a step; returns whether it was late, by both clocks or by a gap.
fn try_out(name: &str, step: &Step, asked: &Asked, chance: &mut Chance) -> Result<bool> {
    let gaps = Gaps::default();
    asked.one_thread.install(|| step(&gaps.job()))?;
    let gap = gaps.longest();
    let since = Instant::now();
    step(&Job::silent())?;
    let takes = since.elapsed();
    let mut runs = Vec::new();
    for k in 0..asked.moments {
        let share = (k as f32 + chance.between(0.0, 1.0)) / asked.moments as f32;
        runs.extend(cancel_after(takes.mul_f32(share), step)?);
    }
    let clock_ms = runs.iter().map(|run| run.clock_ms).fold(0.0, f64::max);
    let worst = runs.iter().max_by(|a, b| a.processor_ms.total_cmp(&b.processor_ms));
    let processor_ms = worst.map_or(0.0, |run| run.processor_ms);
    println!(
        "| {name} | {:.2} | {} | {clock_ms:.0} | {processor_ms:.0} | {:.0} |",
        takes.as_secs_f64(),
        runs.len(),
        gap.ms
    );
    if asked.places {
        println!("  longest gap while “{}”, latest answer while “{}”", gap.said, worst.map_or("", |run| &run.said));
        let places = Gaps::around(gap.number);
        asked.one_thread.install(|| step(&places.job()))?;
        for place in places.places() {
            println!("  {place}");
        }
    }
    Ok(clock_ms.min(processor_ms).max(gap.ms) > PROMISED_MS)
}

/// Runs the step and cancels it after `wait`; none where it ended before.
fn cancel_after(wait: Duration, step: &Step) -> Result<Option<Stopped>> {
    let said = Arc::new(Mutex::new(String::new()));
    let hears = said.clone();
    let job = Job::new(move |what, _| {
        if let Ok(mut said) = hears.lock() {
            what.clone_into(&mut said);
        }
    });
    let cancel = job.clone();
    let timer = std::thread::spawn(move || {
        std::thread::sleep(wait);
        cancel.cancel();
        (Instant::now(), ProcessTime::now())
    });
    let ended = step(&job);
    let (clock, processor) = (Instant::now(), ProcessTime::now());
    let (from, from_processor) = timer.join().map_err(|_| "the timer broke off")?;
    match ended {
        Ok(()) => Ok(None),
        Err(error) if error.fault() == engine::Fault::Cancelled => Ok(Some(Stopped {
            clock_ms: 1e3 * clock.saturating_duration_since(from).as_secs_f64(),
            processor_ms: 1e3 * processor.duration_since(from_processor).as_secs_f64(),
            said: said.lock().map(|said| said.clone()).unwrap_or_default(),
        })),
        Err(error) => Err(error.into()),
    }
}
