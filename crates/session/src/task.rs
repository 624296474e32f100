//! Work on another thread that can be watched, stopped and replaced.

use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::sync::{Arc, Mutex, PoisonError};

use mesh::Job;

use crate::priority;

/// What a running task says of itself.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Progress {
    /// What is being done.
    pub what: String,
    /// How much of it is done, 0 to 1.
    pub fraction: f32,
}

/// At most one piece of work at a time; starting another stops the one before.
#[derive(Debug)]
pub struct Task<T> {
    running: Option<Running<T>>,
}

#[derive(Debug)]
struct Running<T> {
    job: Job,
    // Locked only because a `Receiver` is not `Sync`.
    receiver: Mutex<Receiver<T>>,
    progress: Arc<Mutex<Progress>>,
}

/// What became of a task.
#[derive(Debug, PartialEq)]
pub enum Outcome<T> {
    /// It returned.
    Done(T),
    /// It ended without an answer: a fault of the program.
    Broken,
}

impl<T> Default for Task<T> {
    fn default() -> Self {
        Self { running: None }
    }
}

impl<T: Send + 'static> Task<T> {
    /// Starts `work` on a thread of its own and forgets what was running before.
    pub fn start(&mut self, work: impl FnOnce(&Job) -> T + Send + 'static) {
        self.cancel();
        let progress = Arc::new(Mutex::new(Progress::default()));
        let told = Arc::clone(&progress);
        let job = Job::new(move |what, fraction| {
            let mut progress = told.lock().unwrap_or_else(PoisonError::into_inner);
            what.clone_into(&mut progress.what);
            progress.fraction = fraction;
        });
        let (sender, receiver) = channel();
        let of_thread = job.clone();
        std::thread::spawn(move || {
            priority::lower();
            // Fails if the task was cancelled and nobody receives.
            let _ = sender.send(work(&of_thread));
        });
        self.running = Some(Running { job, receiver: Mutex::new(receiver), progress });
    }

    /// The answer, once, when the work is done.
    pub fn take(&mut self) -> Option<Outcome<T>> {
        let outcome = match self.running.as_ref()?.receiver.lock().unwrap_or_else(PoisonError::into_inner).try_recv() {
            Ok(value) => Outcome::Done(value),
            Err(TryRecvError::Empty) => return None,
            Err(TryRecvError::Disconnected) => Outcome::Broken,
        };
        self.running = None;
        Some(outcome)
    }

    /// Waits for the work to end and drops its answer.
    pub fn wait(&mut self) {
        if let Some(running) = self.running.take() {
            // An error says only that it ended without an answer.
            let _ = running.receiver.lock().unwrap_or_else(PoisonError::into_inner).recv();
        }
    }

    /// How far the running work is; none if nothing runs.
    #[must_use]
    pub fn progress(&self) -> Option<Progress> {
        let running = self.running.as_ref()?;
        Some(running.progress.lock().unwrap_or_else(PoisonError::into_inner).clone())
    }

    /// Whether something runs.
    #[must_use]
    pub fn is_running(&self) -> bool {
        self.running.is_some()
    }

    /// Asks it to come to an end: its answer is still taken.
    pub fn end_early(&self) {
        if let Some(running) = &self.running {
            running.job.cancel();
        }
    }

    /// Asks it to stop and forgets it.
    pub fn cancel(&mut self) {
        if let Some(running) = self.running.take() {
            running.job.cancel();
        }
    }
}

impl<T> Drop for Task<T> {
    fn drop(&mut self) {
        if let Some(running) = &self.running {
            running.job.cancel();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wait<T: Send + 'static>(task: &mut Task<T>) -> Outcome<T> {
        loop {
            if let Some(outcome) = task.take() {
                return outcome;
            }
            std::thread::yield_now();
        }
    }

    #[test]
    fn the_newest_start_is_the_one_that_answers() {
        let mut task = Task::default();
        let (sender, stopped) = channel();
        task.start(move |job| {
            while job.check().is_ok() {
                std::thread::yield_now();
            }
            sender.send(()).unwrap();
            1
        });
        task.start(|job| {
            job.step("counting", 0.5).unwrap();
            2
        });
        assert_eq!(wait(&mut task), Outcome::Done(2));
        // Returns only because the first was told to stop.
        stopped.recv().unwrap();
        assert!(!task.is_running() && task.progress().is_none());
    }

    #[test]
    fn work_that_breaks_is_told_apart() {
        let mut task: Task<u8> = Task::default();
        task.start(|_| {
            // Ends the thread without an answer and without the message of a panic.
            std::panic::resume_unwind(Box::new(()));
        });
        assert_eq!(wait(&mut task), Outcome::Broken);
    }
}
