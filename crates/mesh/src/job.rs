//! The handle that every long step takes: progress out, cancel in.

use std::convert::Infallible;
use std::fmt;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::sync::{Arc, Mutex};
use std::thread::Builder;
use std::time::Duration;

use rayon::prelude::*;

/// The work was stopped because its [`Job`] was cancelled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("Stopped on request.")]
pub struct Cancelled;

type Report = dyn Fn(&str, f32) + Send + Sync;
type Watch = dyn Fn() + Send + Sync;

/// How often to check whether work that cannot be stopped is still wanted.
const LOOK: Duration = Duration::from_millis(10);

/// Handle on running work: carries progress out and a cancel flag in.
///
/// Cloning is cheap and all clones share the same cancel flag.
#[derive(Clone)]
pub struct Job {
    cancel: Arc<AtomicBool>,
    report: Arc<Report>,
    watch: Option<Arc<Watch>>,
    from: f32,
    to: f32,
}

impl Job {
    /// A job that reports to `report(what, fraction)`, with the fraction in 0..=1.
    pub fn new(report: impl Fn(&str, f32) + Send + Sync + 'static) -> Self {
        Self { cancel: Arc::default(), report: Arc::new(report), watch: None, from: 0.0, to: 1.0 }
    }

    /// A job without a listener.
    #[must_use]
    pub fn silent() -> Self {
        Self::new(|_, _| {})
    }

    /// Calls `watch` just before each check of the cancel flag, on the thread that checks: for tests, and to measure
    /// how often work checks.
    #[must_use]
    pub fn watched(self, watch: impl Fn() + Send + Sync + 'static) -> Self {
        Self { watch: Some(Arc::new(watch)), ..self }
    }

    /// A job for one part of this one: its 0..=1 shows as `from..=to` of the whole.
    #[must_use]
    pub fn part(&self, from: f32, to: f32) -> Self {
        let span = self.to - self.from;
        Self { from: self.from + span * from, to: self.from + span * to, ..self.clone() }
    }

    /// A job that is cancelled with this one and reports nothing: for work of which many go on side by side.
    #[must_use]
    pub fn quiet(&self) -> Self {
        Self { report: Arc::new(|_, _| {}), ..self.clone() }
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
        if let Some(watch) = &self.watch {
            watch();
        }
        if self.cancel.load(Ordering::Relaxed) { Err(Cancelled) } else { Ok(()) }
    }

    /// `of(0)` to `of(count - 1)`, worked out on all threads; cancellation is checked every few thousand.
    ///
    /// # Errors
    /// [`Cancelled`] once [`Job::cancel`] was called on any clone.
    pub fn each<T: Send + Clone + Default>(
        &self,
        count: usize,
        of: impl Fn(usize) -> T + Sync,
    ) -> Result<Vec<T>, Cancelled> {
        Poll::each(self, count, of)
    }

    /// As [`Job::each`], with a state that is passed from value to value within a block of a few thousand, such as
    /// where the last was found. The values must not depend on it.
    ///
    /// # Errors
    /// [`Cancelled`] once [`Job::cancel`] was called on any clone.
    pub fn each_with<S: Default, T: Send + Clone + Default>(
        &self,
        count: usize,
        of: impl Fn(&mut S, usize) -> T + Sync,
    ) -> Result<Vec<T>, Cancelled> {
        Poll::each_with(self, count, of)
    }

    /// The result of `work` that cannot be stopped, such as packing a picture in one call. It runs on a thread of its
    /// own; once cancelled, that thread is left behind and its result dropped. Where the system has no thread to spare,
    /// it runs on this one to its end.
    ///
    /// # Errors
    /// [`Cancelled`] once [`Job::cancel`] was called on any clone.
    pub fn aside<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> Result<T, Cancelled> {
        self.check()?;
        let (sender, receiver) = channel();
        let work = Arc::new(Mutex::new(Some(work)));
        let take = |work: &Mutex<Option<_>>| work.lock().ok().and_then(|mut work| work.take()).ok_or(Cancelled);
        let of_thread = Arc::clone(&work);
        // Sending fails once the thread was left behind.
        let started = Builder::new().spawn(move || take(&of_thread).map(|work| drop(sender.send(work()))));
        let Ok(thread) = started else { return take(&work).map(|work| work()) };
        loop {
            match receiver.recv_timeout(LOOK) {
                Ok(answer) => return Ok(answer),
                Err(RecvTimeoutError::Timeout) => self.check()?,
                Err(RecvTimeoutError::Disconnected) => {
                    if let Err(panic) = thread.join() {
                        std::panic::resume_unwind(panic);
                    }
                    return Err(Cancelled);
                }
            }
        }
    }

    /// Asks the work to stop; it does so at its next check.
    pub fn cancel(&self) {
        self.cancel.store(true, Ordering::Relaxed);
    }
}

/// Source of cancellation: a [`Job`], or none.
pub(crate) trait Poll: Sync {
    /// [`Cancelled`], or [`Infallible`] for a step that cannot be stopped.
    type Stop: Send;
    fn poll(&self) -> Result<(), Self::Stop>;

    /// See [`Job::each`].
    fn each<T: Send + Clone + Default>(
        &self,
        count: usize,
        of: impl Fn(usize) -> T + Sync,
    ) -> Result<Vec<T>, Self::Stop> {
        self.each_with(count, |(): &mut (), i| of(i))
    }

    /// See [`Job::each_with`].
    fn each_with<S: Default, T: Send + Clone + Default>(
        &self,
        count: usize,
        of: impl Fn(&mut S, usize) -> T + Sync,
    ) -> Result<Vec<T>, Self::Stop> {
        let mut all = vec![T::default(); count];
        all.par_chunks_mut(BLOCK).enumerate().try_for_each(|(block, part)| {
            self.poll()?;
            let mut state = S::default();
            part.iter_mut().enumerate().for_each(|(i, value)| *value = of(&mut state, block * BLOCK + i));
            Ok(())
        })?;
        Ok(all)
    }
}

/// Values that one thread works out between two checks.
const BLOCK: usize = 4096;

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
    use std::sync::atomic::AtomicUsize;

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

    #[test]
    fn each_gives_all_in_order_and_stops_at_the_next_block() {
        let count = 5 * BLOCK + 7;
        assert_eq!(Job::silent().each(count, |i| 2 * i).unwrap(), (0..count).map(|i| 2 * i).collect::<Vec<_>>());
        let done = AtomicUsize::new(0);
        let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        let job = Job::silent();
        let stopped = pool.install(|| {
            job.each(count, |_| {
                job.cancel();
                done.fetch_add(1, Ordering::Relaxed);
            })
        });
        assert_eq!(stopped, Err(Cancelled));
        assert_eq!(done.load(Ordering::Relaxed), BLOCK, "nothing of the next block");
    }

    #[test]
    fn what_cannot_be_stopped_is_left_behind() {
        assert_eq!(Job::silent().aside(|| 7), Ok(7));
        let (job, (hold, held)) = (Job::silent(), channel::<()>());
        let cancel = job.clone();
        // Ends only when the test does, after the answer.
        let stopped = job.aside(move || {
            cancel.cancel();
            held.recv()
        });
        assert_eq!(stopped, Err(Cancelled));
        drop(hold);
    }

    #[test]
    fn a_watch_is_called_at_each_look_and_may_cancel_at_it() {
        let looks = Arc::new(AtomicUsize::new(0));
        let (cancel, count) = (Job::silent(), looks.clone());
        let flag = cancel.clone();
        let job = cancel.watched(move || {
            if count.fetch_add(1, Ordering::Relaxed) == 2 {
                flag.cancel();
            }
        });
        let part = job.part(0.0, 0.5);
        assert_eq!((job.check(), part.step("ribs", 0.5), part.check()), (Ok(()), Ok(()), Err(Cancelled)));
        assert_eq!(looks.load(Ordering::Relaxed), 3);
    }
}
