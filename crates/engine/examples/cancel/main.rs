//! How soon each long step answers when it is cancelled: `cancel [--rows N] [--moments N] [--seed S] [--only WORD]`
//!
//! Runs each step of the job on an invented limb once to its end, then again and again, cancelled at moments spread over
//! the time that it took, and measures how long it goes on. By default the limb has a million triangles (`--rows 500`).
//!
//! Two times are given, as a busy machine makes the one by the clock longer than it is: by the clock, and of the processor
//! on all threads, which is at least as long as the clock's on quiet cores.
#![allow(clippy::print_stdout)]

#[path = "../shared/chance.rs"]
mod chance;
mod steps;

use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use chance::Chance;
use cpu_time::ProcessTime;
use mesh::Job;
use steps::{Result, Step, Steps};

/// Promised, ms.
const PROMISED_MS: f64 = 200.0;

fn main() -> Result<()> {
    let (mut rows, mut moments, mut seed, mut only) = (500, 20, 1, String::new());
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().ok_or_else(|| format!("{word} wants a value"))?;
        match word.as_str() {
            "--rows" => rows = value.parse()?,
            "--moments" => moments = value.parse()?,
            "--seed" => seed = value.parse()?,
            "--only" => only = value,
            _ => return Err(format!("{word} is not known; see the first lines of this program's source").into()),
        }
    }
    let steps = Steps::new(rows)?;
    let mut chance = Chance::new(seed, 0);
    println!("step                      takes s  cancelled  worst ms by clock  of the processor  last said before");
    let mut late = 0;
    for (name, step) in steps.all() {
        if name.contains(&only) {
            late += usize::from(try_out(name, &*step, moments, &mut chance)?);
        }
    }
    println!("{late} steps went on for longer than {PROMISED_MS} ms");
    Ok(())
}

/// One cancelled run.
struct Stopped {
    clock_ms: f64,
    processor_ms: f64,
    said: String,
}

/// Prints the line of a step; whether it was late by both clocks.
fn try_out(name: &str, step: &Step, moments: u32, chance: &mut Chance) -> Result<bool> {
    let since = Instant::now();
    step(&Job::silent())?;
    let takes = since.elapsed();
    let mut runs = Vec::new();
    for k in 0..moments {
        let share = (k as f32 + chance.between(0.0, 1.0)) / moments as f32;
        runs.extend(cancel_after(takes.mul_f32(share), step)?);
    }
    let clock_ms = runs.iter().map(|run| run.clock_ms).fold(0.0, f64::max);
    let worst = runs.iter().max_by(|a, b| a.processor_ms.total_cmp(&b.processor_ms));
    let (processor_ms, said) = worst.map_or((0.0, ""), |run| (run.processor_ms, run.said.as_str()));
    println!(
        "{name:<25} {:>7.2} {:>10} {clock_ms:>18.0} {processor_ms:>17.0}  {said}",
        takes.as_secs_f64(),
        runs.len()
    );
    Ok(clock_ms.min(processor_ms) > PROMISED_MS)
}

/// Runs the step and cancels it after a while; nothing where it was done before.
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
