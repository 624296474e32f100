//! Autosave: writes the document into the folder for unsaved work within a second of a change.

use std::sync::Arc;
use std::time::{Duration, Instant};

use engine::EngineError;

use crate::task::Outcome;
use crate::{Note, Problem, Recovery, Session};

/// Longest time between a change and its autosave.
const AUTOSAVE_AFTER: Duration = Duration::from_millis(800);

impl Session {
    /// Whether every change is on the disk, saved by the user or by the autosave.
    #[must_use]
    pub fn is_kept(&self) -> bool {
        let is_last = |document: &crate::Document| {
            let now = document.history.now();
            self.autosaved.as_ref().is_some_and(|last| Arc::ptr_eq(last, now) || **last == **now)
        };
        !self.autosaving.is_running() && self.document.as_ref().is_none_or(is_last)
    }

    pub(crate) fn autosave(&mut self) {
        match self.autosaving.take() {
            Some(Outcome::Done(Err(problem))) => self.notes.push(Note::Problem(problem)),
            Some(Outcome::Broken) => self.notes.push(Note::Problem(Problem::broken("the autosave"))),
            // The document was saved, or another one opened, during the autosave: its copy is not needed.
            Some(Outcome::Done(Ok(()))) if self.document.as_ref().is_none_or(|d| !d.is_unsaved()) => {
                self.recovery.done()
            }
            Some(Outcome::Done(Ok(()))) | None => {}
        }
        let Some(document) = &self.document else { return };
        let now = document.history.now();
        if self.autosaved.as_ref().is_some_and(|last| Arc::ptr_eq(last, now) || **last == **now) {
            self.differs_since = None;
            return;
        }
        let since = *self.differs_since.get_or_insert_with(Instant::now);
        if since.elapsed() < AUTOSAVE_AFTER || self.autosaving.is_running() {
            return;
        }
        let (folder, design) = (self.recovery.folder().to_owned(), Arc::clone(now));
        let (loaded, saved_as) = (Arc::clone(&document.loaded), document.path.clone());
        self.autosaved = Some(Arc::clone(now));
        self.differs_since = None;
        self.autosaving.start(move |_| {
            locker::keep_beside(&loaded.bytes, &folder, &mesh::Job::silent()).map_err(EngineError::from)?;
            Recovery::autosave(&folder, &design, saved_as.as_deref())
        });
    }
}
