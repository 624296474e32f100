//! The search for the lightest guard that holds, in the background.

use std::sync::{Arc, Mutex, PoisonError};

use engine::{Chosen, Lightest, Targets, Trial};
use shell::Design;

use crate::task::{Outcome, Task};
use crate::{Note, Problem, Session};

/// The search for the lightest guard.
#[derive(Debug, Default)]
pub struct Seeking {
    task: Task<Result<Lightest, Problem>>,
    tried: Arc<Mutex<Vec<Trial>>>,
    /// The design that was begun with.
    from: Option<Design>,
    found: Option<Arc<Lightest>>,
}

impl Seeking {
    /// Whether it goes on.
    #[must_use]
    pub fn is_running(&self) -> bool {
        self.task.is_running()
    }

    /// How many guards were tried by now, and the lightest of them that holds.
    #[must_use]
    pub fn so_far(&self) -> (usize, Option<Trial>) {
        let tried = self.tried.lock().unwrap_or_else(PoisonError::into_inner);
        let holds = tried.iter().filter(|trial| trial.worst <= 1.0);
        (tried.len(), holds.min_by(|a, b| a.grams.total_cmp(&b.grams)).cloned())
    }

    /// What was found for this design, or taken into it.
    #[must_use]
    pub fn found(&self, now: &Design) -> Option<&Arc<Lightest>> {
        let found = self.found.as_ref()?;
        let taken = found.best.as_ref().is_some_and(|best| best.design == *now);
        (taken || self.from.as_ref() == Some(now)).then_some(found)
    }

    pub(crate) fn progress(&self) -> Option<crate::Progress> {
        self.task.progress()
    }

    /// Ends it; what was found by then is kept.
    pub(crate) fn end(&self) {
        self.task.end_early();
    }

    pub(crate) fn forget(&mut self) {
        *self = Self::default();
    }

    /// Takes what was found; whether anything was.
    pub(crate) fn poll(&mut self, notes: &mut Vec<Note>) -> bool {
        match self.task.take() {
            None => return false,
            Some(Outcome::Done(Ok(found))) => self.found = Some(Arc::new(found)),
            Some(Outcome::Done(Err(problem))) if problem.stopped => {}
            Some(Outcome::Done(Err(problem))) => notes.push(Note::Problem(problem)),
            Some(Outcome::Broken) => notes.push(Note::Problem(Problem::broken("the search for the lightest guard"))),
        }
        true
    }
}

impl Session {
    /// Seeks the lightest guard that holds to these targets, in the background. [`Session::stop`] ends it and keeps the lightest
    /// so far.
    pub fn seek_lightest(&mut self, targets: Targets) {
        let Some(document) = &self.document else { return };
        let design = document.design().clone();
        let (Some(limb), Some(zone)) = (self.derived.limb.value(), self.derived.zone_now(&design)) else { return };
        let (limb, zone, materials) = (Arc::clone(limb), Arc::clone(zone), self.materials.clone());
        let tried = Arc::new(Mutex::new(Vec::new()));
        let told = Arc::clone(&tried);
        let seeking = &mut self.seeking;
        (seeking.tried, seeking.from, seeking.found) = (tried, Some(design.shell.clone()), None);
        seeking.task.start(move |job| {
            let chosen = Chosen::new(&design, &design.strength)?;
            let watch = |trial: &Trial| told.lock().unwrap_or_else(PoisonError::into_inner).push(trial.clone());
            Ok(engine::lightest_on((&limb.skin, &zone), &design, &chosen, &targets, &materials, &watch, job)?)
        });
    }

    /// The search for the lightest guard.
    #[must_use]
    pub fn seeking(&self) -> &Seeking {
        &self.seeking
    }
}
