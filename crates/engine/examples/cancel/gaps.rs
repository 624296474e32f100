//! Processor time between two looks at the cancel flag.

use std::backtrace::Backtrace;
use std::sync::{Arc, Mutex, PoisonError};

use cpu_time::ProcessTime;
use mesh::Job;

/// The longest gap between two looks.
#[derive(Default, Clone)]
pub struct Gap {
    pub ms: f64,
    /// Number of the look that ended it, from 1.
    pub number: u64,
    /// The step's last progress message.
    pub said: String,
}

#[derive(Default)]
struct Seen {
    said: String,
    looks: u64,
    last: Option<ProcessTime>,
    longest: Gap,
    /// At this look and the one before, record where the work is.
    around: Option<u64>,
    places: Vec<String>,
}

/// Measures a step that runs on one thread.
#[derive(Default, Clone)]
pub struct Gaps(Arc<Mutex<Seen>>);

impl Gaps {
    /// Records where the work is at a look and at the one before.
    pub fn around(number: u64) -> Self {
        Self(Arc::new(Mutex::new(Seen { around: Some(number), ..Seen::default() })))
    }

    /// The job for the step; the time before its first look counts from here.
    pub fn job(&self) -> Job {
        let (hears, looks) = (self.0.clone(), self.0.clone());
        locked(&self.0).last = Some(ProcessTime::now());
        Job::new(move |what, _| what.clone_into(&mut locked(&hears).said)).watched(move || locked(&looks).look())
    }

    /// The longest gap, to be called when the work has just ended.
    pub fn longest(&self) -> Gap {
        let mut seen = locked(&self.0);
        seen.look();
        seen.longest.clone()
    }

    /// Where the work was.
    pub fn places(&self) -> Vec<String> {
        locked(&self.0).places.clone()
    }
}

impl Seen {
    fn look(&mut self) {
        let now = ProcessTime::now();
        self.looks += 1;
        if let Some(last) = self.last {
            let ms = 1e3 * now.duration_since(last).as_secs_f64();
            if ms > self.longest.ms {
                self.longest = Gap { ms, number: self.looks, said: self.said.clone() };
            }
        }
        if let Some(number) = self.around.filter(|number| (number.saturating_sub(1)..=*number).contains(&self.looks)) {
            let word = if self.looks == number { "to" } else { "from" };
            let place = our_lines(&Backtrace::force_capture().to_string());
            self.places.push(format!("{word} {place}"));
        }
        self.last = Some(ProcessTime::now());
    }
}

fn locked(seen: &Mutex<Seen>) -> std::sync::MutexGuard<'_, Seen> {
    seen.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The innermost lines of a backtrace that lie in the project's own crates.
fn our_lines(trace: &str) -> String {
    let own = |line: &&str| line.contains("crates/") && !line.contains("job.rs") && !line.contains("examples/");
    let lines = trace.lines().map(str::trim).filter(|line| line.starts_with("at ")).filter(own).take(5);
    lines.filter_map(|line| line.split_once("crates/")).map(|(_, place)| place).collect::<Vec<_>>().join(" < ")
}
