//! One thing that follows from the document: what it was asked from, what came out, and what is still to come.

use std::sync::Arc;

use mesh::Job;

use crate::task::{Outcome, Progress, Task};
use crate::{IfRunning, Problem};

/// What can be done to every derived value alike.
pub(crate) trait Background {
    /// Stops what is running; it is not asked for again until its key changes or [`Self::ask_again`].
    fn cancel(&mut self);
    /// Lets what was stopped be asked for again.
    fn ask_again(&mut self);
    /// Forgets everything.
    fn clear(&mut self);
}

/// A value worked out in the background from a key of type `K`.
#[derive(Debug)]
pub struct DerivedValue<K, T> {
    task: Task<Result<T, Problem>>,
    /// What is being worked on, or was last.
    asked: Option<K>,
    made_from: Option<K>,
    value: Option<Arc<T>>,
    problem: Option<Problem>,
    was_stopped: bool,
    serial: u64,
}

impl<K, T> Default for DerivedValue<K, T> {
    fn default() -> Self {
        Self {
            task: Task::default(),
            asked: None,
            made_from: None,
            value: None,
            problem: None,
            was_stopped: false,
            serial: 0,
        }
    }
}

impl<K: Clone, T: Send + Sync + 'static> DerivedValue<K, T> {
    /// Asks for the value whose key satisfies `is`, unless it is there, being made, or known to fail. `begin` gives key
    /// and work and is called only if the value has to be made, so that nothing is copied needlessly.
    ///
    /// With [`IfRunning::Replace`] running work is stopped; with [`IfRunning::Finish`] it may finish first, so that
    /// something is shown while a slider moves.
    pub fn want<W>(&mut self, is: impl Fn(&K) -> bool, if_running: IfRunning, begin: impl FnOnce() -> (K, W))
    where
        W: FnOnce(&Job) -> Result<T, Problem> + Send + 'static,
    {
        if self.asked.as_ref().is_some_and(&is) {
            return;
        }
        if self.made_from.as_ref().is_some_and(&is) {
            // Back to the value that is there, as after undo: nothing to make, and a failure since then no longer
            // counts.
            self.task.cancel();
            self.asked.clone_from(&self.made_from);
            self.problem = None;
            return;
        }
        if if_running == IfRunning::Finish && self.task.is_running() {
            return;
        }
        let (key, work) = begin();
        self.asked = Some(key);
        self.task.start(work);
    }

    /// Takes finished work; whether there was any.
    pub fn poll(&mut self, what: &str) -> bool {
        let Some(outcome) = self.task.take() else { return false };
        match outcome {
            Outcome::Done(Ok(value)) => {
                self.value = Some(Arc::new(value));
                self.made_from.clone_from(&self.asked);
                self.problem = None;
                self.serial += 1;
            }
            Outcome::Done(Err(problem)) => {
                self.problem = Some(problem);
            }
            Outcome::Broken => self.problem = Some(Problem::broken(what)),
        }
        true
    }

    /// Puts in a value that was made elsewhere.
    pub fn put(&mut self, key: K, value: Arc<T>) {
        self.task.cancel();
        self.asked = Some(key.clone());
        self.made_from = Some(key);
        self.value = Some(value);
        self.problem = None;
        self.serial += 1;
    }

    /// Gives the newest value another key.
    pub fn rename(&mut self, key: K) {
        self.asked = Some(key.clone());
        self.made_from = Some(key);
    }

    /// The newest value, which may belong to an earlier state of the document.
    #[must_use]
    pub fn value(&self) -> Option<&Arc<T>> {
        self.value.as_ref()
    }

    /// The value, if its key satisfies `is`.
    #[must_use]
    pub fn current(&self, is: impl FnOnce(&K) -> bool) -> Option<&Arc<T>> {
        self.value.as_ref().filter(|_| self.made_from.as_ref().is_some_and(is))
    }

    /// Why the newest request came to nothing.
    #[must_use]
    pub fn problem(&self) -> Option<&Problem> {
        self.problem.as_ref()
    }

    /// Whether the value whose key satisfies `is` was asked for and will not come: it failed or was stopped.
    #[must_use]
    pub fn is_given_up(&self, is: impl Fn(&K) -> bool) -> bool {
        let was_asked = self.asked.as_ref().is_some_and(&is) && !self.is_running();
        was_asked && !self.made_from.as_ref().is_some_and(is)
    }

    /// Grows with every new value.
    #[must_use]
    pub fn serial(&self) -> u64 {
        self.serial
    }

    /// How far the running work is.
    #[must_use]
    pub fn progress(&self) -> Option<Progress> {
        self.task.progress()
    }

    /// Whether it is being worked on.
    #[must_use]
    pub fn is_running(&self) -> bool {
        self.task.is_running()
    }
}

impl<K: Clone, T: Send + Sync + 'static> Background for DerivedValue<K, T> {
    fn cancel(&mut self) {
        self.was_stopped |= self.task.is_running();
        self.task.cancel();
    }

    fn ask_again(&mut self) {
        if std::mem::take(&mut self.was_stopped) && !self.task.is_running() {
            self.asked.clone_from(&self.made_from);
        }
    }

    fn clear(&mut self) {
        let serial = self.serial + 1;
        *self = Self { serial, ..Self::default() };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn want(value: &mut DerivedValue<u32, u32>, wanted: u32, made: Result<u32, Problem>) {
        value.want(|key| *key == wanted, IfRunning::Replace, || (wanted, move |_: &Job| made));
    }

    fn finished(value: &mut DerivedValue<u32, u32>) {
        while value.is_running() {
            value.poll("a number");
            std::thread::yield_now();
        }
    }

    #[test]
    fn going_back_to_what_is_there_makes_nothing_and_ends_what_failed_since() {
        let mut value = DerivedValue::default();
        want(&mut value, 1, Ok(10));
        finished(&mut value);
        let (serial, first) = (value.serial(), value.current(|key| *key == 1).cloned());
        assert_eq!(first.as_deref(), Some(&10));
        want(&mut value, 2, Err(Problem::plain("no".to_owned())));
        finished(&mut value);
        assert!(value.problem().is_some() && value.current(|key| *key == 2).is_none());
        assert!(value.is_given_up(|key| *key == 2) && !value.is_given_up(|key| *key == 1));
        let mut begun = false;
        value.want(
            |key| *key == 1,
            IfRunning::Replace,
            || {
                begun = true;
                (1, |_: &Job| Ok(11))
            },
        );
        assert!(!begun, "nothing is copied for what is there");
        assert!(!value.is_running() && value.problem().is_none());
        assert_eq!((value.serial(), value.current(|key| *key == 1).map(|v| **v)), (serial, Some(10)));
        want(&mut value, 2, Ok(20));
        finished(&mut value);
        assert_eq!(value.current(|key| *key == 2).map(|v| **v), Some(20), "what once failed may be asked for again");
    }
}
