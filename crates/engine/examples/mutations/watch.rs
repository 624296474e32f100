//! Keeps an eye on the case that runs: a case may be slow or large, but must not take the machine with it.

use std::sync::{Arc, Mutex};
use std::time::Duration;

use cpu_time::ProcessTime;
use mesh::Job;

use crate::{MEMORY, MOST_BYTES};

/// The case that runs.
struct Running {
    words: String,
    job: Job,
    since: ProcessTime,
}

/// Watches from its own thread.
#[derive(Clone)]
pub struct Watch {
    running: Arc<Mutex<Option<Running>>>,
    /// The most that a case may take, of the processor.
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

    /// A case begins; `words` bring it back.
    pub fn begin(&self, words: &str, job: &Job) {
        self.set(Some(Running { words: words.to_owned(), job: job.clone(), since: ProcessTime::now() }));
    }

    pub fn end(&self) {
        self.set(None);
    }

    fn set(&self, running: Option<Running>) {
        *self.running.lock().unwrap_or_else(std::sync::PoisonError::into_inner) = running;
    }

    /// Cancels a case that is beyond what was promised; ends the program where that does not help.
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
