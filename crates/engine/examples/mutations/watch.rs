//! Watches the current case, so that a slow or large one does not take down the machine.

use std::sync::{Arc, Mutex};
use std::time::Duration;

use cpu_time::ProcessTime;
use mesh::Job;

use crate::{MEMORY, MOST_BYTES};

/// The current case.
struct Running {
    words: String,
    job: Job,
    since: ProcessTime,
}

/// Watches from its own thread.
#[derive(Clone)]
pub struct Watch {
    running: Arc<Mutex<Option<Running>>>,
    /// Most processor time of a case.
    pub most_time: Duration,
}

impl Watch {
    pub fn new(most_time: Duration) -> Self {
        let watch = Self { running: Arc::default(), most_time };
        let seen = watch.clone();
        std::thread::spawn(move || {
            loop {
                std::thread::sleep(Duration::from_millis(50));
                seen.look();
            }
        });
        watch
    }

    /// Begins a case; `words` are the options that repeat it.
    pub fn begin(&self, words: &str, job: &Job) {
        self.set(Some(Running { words: words.to_owned(), job: job.clone(), since: ProcessTime::now() }));
    }

    pub fn end(&self) {
        self.set(None);
    }

    fn set(&self, running: Option<Running>) {
        *self.running.lock().unwrap_or_else(std::sync::PoisonError::into_inner) = running;
    }

    /// Cancels a case that goes over a limit; ends the program where that does not help.
    fn look(&self) {
        let running = self.running.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let Some(running) = running.as_ref() else { return };
        let (time, bytes) = (running.since.elapsed(), MEMORY.current_usage());
        if time > self.most_time || bytes > MOST_BYTES {
            running.job.cancel();
        }
        if time > 2 * self.most_time || bytes > 3 * MOST_BYTES {
            eprintln!(
                "NOT TO BE STOPPED: {} takes {:.0} s and {} MB and goes on",
                running.words,
                time.as_secs_f64(),
                bytes >> 20
            );
            std::process::exit(2);
        }
    }
}
