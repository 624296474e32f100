//! The handle that every long step takes: progress out, cancel in.

use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// The work was stopped because its [`Job`] was cancelled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("Stopped on request; nothing was changed.")]
pub struct Cancelled;

type Report = dyn Fn(&str, f32) + Send + Sync;

/// A running piece of work, seen from outside: it reports what it does and can be asked to stop.
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

    /// A job that nobody watches.
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

    /// Says what is being done and how far it is, and stops here if asked to.
    ///
    /// # Errors
    /// [`Cancelled`] once [`Job::cancel`] was called on any clone.
    pub fn step(&self, what: &str, fraction: f32) -> Result<(), Cancelled> {
        self.check()?;
        (self.report)(what, self.from + (self.to - self.from) * fraction.clamp(0.0, 1.0));
        Ok(())
    }

    /// Stops here if asked to; cheap enough for inner loops.
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
