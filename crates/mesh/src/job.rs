//! The handle that every long step takes: progress out, cancel in.

use std::convert::Infallible;
use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// The work was stopped because its [`Job`] was cancelled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("Stopped on request.")]
pub struct Cancelled;

type Report = dyn Fn(&str, f32) + Send + Sync;

/// Handle on running work: carries progress out and a cancel flag in.
///
/// Cloning is cheap and all clones share the same cancel flag.
#[derive(Clone)]
pub struct Job {
    cancel: Arc<AtomicBool>,
    report: Arc<Report>,
    from: f32,
    to: f32,
}

impl Job {
    /// A job that reports to `report(what, fraction)`, with the fraction in 0..=1.
    pub fn new(report: impl Fn(&str, f32) + Send + Sync + 'static) -> Self {
        Self { cancel: Arc::default(), report: Arc::new(report), from: 0.0, to: 1.0 }
    }

    /// A job without a listener.
    #[must_use]
    pub fn silent() -> Self {
        Self::new(|_, _| {})
    }

    /// A job for one part of this one: its 0..=1 shows as `from..=to` of the whole.
    #[must_use]
    pub fn part(&self, from: f32, to: f32) -> Self {
        let span = self.to - self.from;
        Self { from: self.from + span * from, to: self.from + span * to, ..self.clone() }
    }

    /// Reports the current step and progress; returns early if cancelled.
    ///
    /// # Errors
    /// [`Cancelled`] once [`Job::cancel`] was called on any clone.
    pub fn step(&self, what: &str, fraction: f32) -> Result<(), Cancelled> {
        self.check()?;
        (self.report)(what, self.from + (self.to - self.from) * fraction.clamp(0.0, 1.0));
        Ok(())
    }

    /// Returns early if cancelled; cheap enough for inner loops.
    ///
    /// # Errors
    /// [`Cancelled`] once [`Job::cancel`] was called on any clone.
    pub fn check(&self) -> Result<(), Cancelled> {
        if self.cancel.load(Ordering::Relaxed) { Err(Cancelled) } else { Ok(()) }
    }

    /// Asks the work to stop; it does so at its next check.
    pub fn cancel(&self) {
        self.cancel.store(true, Ordering::Relaxed);
    }
}

/// Source of cancellation: a [`Job`], or none.
pub(crate) trait Poll: Sync {
    /// [`Cancelled`], or nothing for a step that cannot be stopped.
    type Stop: Send;
    fn poll(&self) -> Result<(), Self::Stop>;
}

impl Poll for Job {
    type Stop = Cancelled;

    fn poll(&self) -> Result<(), Cancelled> {
        self.check()
    }
}

/// Lets every step run to its end.
pub(crate) struct Unstoppable;

impl Poll for Unstoppable {
    type Stop = Infallible;

    fn poll(&self) -> Result<(), Infallible> {
        Ok(())
    }
}

/// Polls once in a number of loop iterations.
pub(crate) struct Every<'a, P> {
    poll: &'a P,
    rounds: u32,
    left: u32,
}

impl<'a, P: Poll> Every<'a, P> {
    pub(crate) fn new(poll: &'a P, rounds: u32) -> Self {
        Self { poll, rounds, left: rounds }
    }

    #[inline]
    pub(crate) fn tick(&mut self) -> Result<(), P::Stop> {
        self.left -= 1;
        if self.left == 0 {
            self.left = self.rounds;
            self.poll.poll()?;
        }
        Ok(())
    }
}

impl Default for Job {
    fn default() -> Self {
        Self::silent()
    }
}

impl fmt::Debug for Job {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Job").field("cancelled", &self.cancel).finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    #[test]
    fn parts_scale_their_progress_and_share_the_cancel_flag() {
        let seen = Arc::new(Mutex::new(Vec::new()));
        let log = seen.clone();
        let whole = Job::new(move |_, f| log.lock().unwrap().push(f));
        let half = whole.part(0.5, 1.0);
        half.step("ribs", 0.5).unwrap();
        whole.cancel();
        assert_eq!(half.step("vents", 0.9), Err(Cancelled));
        assert_eq!(*seen.lock().unwrap(), vec![0.75]);
    }
}
