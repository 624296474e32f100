//! Saves designs on another thread, one at a time, in the order of the requests.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use engine::LoadedScan;
use locker::DesignFile;

use crate::task::{Outcome, Task};
use crate::{Note, Problem, Progress, Session};

/// A design to be saved with its scan beside it.
#[derive(Debug)]
pub(crate) struct Request {
    pub(crate) path: PathBuf,
    pub(crate) design: Arc<DesignFile>,
    pub(crate) loaded: Arc<LoadedScan>,
}

/// What is being saved, and what comes after.
#[derive(Debug, Default)]
pub(crate) struct Saving {
    task: Task<Result<Request, Problem>>,
    next: VecDeque<Request>,
}

impl Saving {
    /// Queues a save.
    pub(crate) fn ask(&mut self, request: Request) {
        self.next.push_back(request);
        self.go_on();
    }

    /// Takes a finished save, or why it failed.
    pub(crate) fn poll(&mut self) -> Option<Result<Request, Problem>> {
        let outcome = self.task.take()?;
        self.go_on();
        Some(match outcome {
            Outcome::Done(saved) => saved,
            Outcome::Broken => Err(Problem::broken("saving")),
        })
    }

    /// Whether anything is still to be saved.
    pub(crate) fn is_running(&self) -> bool {
        self.task.is_running()
    }

    pub(crate) fn progress(&self) -> Option<Progress> {
        self.task.progress()
    }

    /// Waits until all is saved.
    pub(crate) fn wait(&mut self) {
        while self.task.is_running() {
            self.task.wait();
            self.go_on();
        }
    }

    fn go_on(&mut self) {
        if self.task.is_running() {
            return;
        }
        let Some(request) = self.next.pop_front() else { return };
        self.task.start(move |job| {
            // An error would mean that the save was stopped, which nobody does.
            let _ = job.step("saving", 0.0);
            let folder = request.path.parent().unwrap_or(Path::new(""));
            locker::keep_beside(&request.loaded.bytes, folder, &mesh::Job::silent())
                .and_then(|_| locker::save_design(&request.design, &request.path))
                .map_err(|e| Problem::plain(e.to_string()))?;
            Ok(request)
        });
    }
}

impl Session {
    /// Saves to the file it was saved to before; false if there is none.
    pub fn save(&mut self) -> bool {
        let Some(path) = self.document.as_ref().and_then(|d| d.path.clone()) else { return false };
        self.save_as(&path);
        true
    }

    /// Saves the current design as `path`, with its scan beside it, in the background; a note tells when it is done.
    pub fn save_as(&mut self, path: &Path) {
        let Some(document) = &mut self.document else { return };
        document.history.settle();
        self.saving.ask(Request {
            path: path.to_owned(),
            design: Arc::clone(document.history.now()),
            loaded: Arc::clone(&document.loaded),
        });
    }

    pub(crate) fn is_saved(&mut self, request: Request) {
        let Request { path, design, loaded } = request;
        // Another may have been opened meanwhile, or this one changed.
        if let Some(document) = self.document.as_mut().filter(|d| Arc::ptr_eq(&d.loaded, &loaded)) {
            document.path = Some(path.clone());
            document.saved = Some(design);
            if !document.is_unsaved() {
                self.autosaved = Some(Arc::clone(document.history.now()));
                self.differs_since = None;
                self.recovery.done();
            }
        }
        self.preferences.remember(&path);
        self.keep_preferences();
        self.notes.push(Note::Saved(path));
    }
}
