//! Progress on stderr: a bar on a terminal, one line a step elsewhere.

use std::io::IsTerminal;
use std::sync::Mutex;

use indicatif::{ProgressBar, ProgressStyle};
use mesh::Job;

/// What is shown of the running work.
pub struct Shown {
    bar: Option<ProgressBar>,
    quiet: bool,
}

const STEPS: f32 = 1000.0;

impl Shown {
    pub fn new(quiet: bool) -> Self {
        let bar = (!quiet && std::io::stderr().is_terminal()).then(|| {
            let bar = ProgressBar::new(STEPS as u64);
            let style = ProgressStyle::with_template("{bar:32} {percent:>3} %  {wide_msg}");
            bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
            bar
        });
        Self { bar, quiet }
    }

    /// The job whose progress this shows.
    pub fn job(&self) -> Job {
        if let Some(bar) = self.bar.clone() {
            return Job::new(move |what, share| {
                bar.set_position((share * STEPS) as u64);
                bar.set_message(what.to_owned());
            });
        }
        if self.quiet {
            return Job::silent();
        }
        let last = Mutex::new(String::new());
        Job::new(move |what, share| {
            // Another thread's panic while printing is no reason to stop printing.
            let mut last = last.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
            if *last != what {
                what.clone_into(&mut last);
                eprintln!("{:>3.0} %  {what}", share * 100.0);
            }
        })
    }

    pub fn finish(&self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}
