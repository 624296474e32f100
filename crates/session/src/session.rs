//! The session: opens, edits, saves, and keeps everything that follows up to date.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

use engine::{MakeReport, StrengthMap};
use locker::DesignFile;
use mechanics::{Material, Materials};

use crate::derived::{Changed, Derived};
use crate::document::Document;
use crate::opening::{Opened, RawSlot};
use crate::own_materials;
use crate::saving::Saving;
use crate::seeking::Seeking;
use crate::task::{Outcome, Task};
use crate::{Places, Preferences, Problem, Progress, Recovery, UnsavedDesign, Watch};

/// Something to tell the user.
#[derive(Debug, Clone)]
pub enum Note {
    /// A design or scan is open; [`Document::opened_from`] says which.
    Opened(String),
    /// Something could not be done.
    Problem(Problem),
    /// A new scan lies in the watched folder.
    ScanArrived(PathBuf),
    /// The design was saved.
    Saved(PathBuf),
    /// The design could not be saved.
    NotSaved(Problem),
    /// The print files were written.
    Exported {
        /// Into this folder.
        folder: PathBuf,
        /// What was made.
        report: Arc<MakeReport>,
    },
}

/// One sitting; see the crate.
#[derive(Debug)]
pub struct Session {
    /// What is remembered between sittings; call [`Session::keep_preferences`] after a change.
    pub preferences: Preferences,
    /// The materials that guards are compared in.
    pub materials: Materials,
    pub(crate) places: Places,
    pub(crate) recovery: Recovery,
    pub(crate) unsaved_designs: Vec<UnsavedDesign>,
    pub(crate) document: Option<Document>,
    pub(crate) derived: Derived,
    pub(crate) opening: Task<Result<Opened, Problem>>,
    pub(crate) raw: RawSlot,
    pub(crate) exporting: Task<Result<(PathBuf, MakeReport), Problem>>,
    pub(crate) saving: Saving,
    pub(crate) seeking: Seeking,
    pub(crate) autosaving: Task<Result<(), Problem>>,
    /// The state autosaved last; `differs_since` is when the document was first seen to differ from it.
    pub(crate) autosaved: Option<Arc<DesignFile>>,
    pub(crate) differs_since: Option<Instant>,
    pub(crate) watch: Option<Watch>,
    pub(crate) notes: Vec<Note>,
}

impl Session {
    /// Begins a sitting.
    ///
    /// # Errors
    /// There is no place for unsaved work.
    pub fn begin(places: Places) -> Result<Self, Problem> {
        let preferences = Preferences::load(&places.preferences());
        let (recovery, unsaved_designs) = Recovery::begin(&places.recovery)?;
        let (materials, notes) = match own_materials::load(&places.own_materials()) {
            Ok(materials) => (materials, Vec::new()),
            Err(problem) => (Materials::built_in(), vec![Note::Problem(problem)]),
        };
        let watch = preferences.watched_folder.as_deref().map(Watch::new);
        Ok(Self {
            preferences,
            materials,
            places,
            recovery,
            unsaved_designs,
            document: None,
            derived: Derived::default(),
            opening: Task::default(),
            raw: RawSlot::default(),
            exporting: Task::default(),
            saving: Saving::default(),
            seeking: Seeking::default(),
            autosaving: Task::default(),
            autosaved: None,
            differs_since: None,
            watch,
            notes,
        })
    }

    /// The document, if one is open.
    #[must_use]
    pub fn document(&self) -> Option<&Document> {
        self.document.as_ref()
    }

    /// The current design.
    #[must_use]
    pub fn design(&self) -> Option<&DesignFile> {
        self.document.as_ref().map(Document::design)
    }

    /// What follows from the document.
    #[must_use]
    pub fn derived(&self) -> &Derived {
        &self.derived
    }

    /// Unsaved work that was found at the start.
    #[must_use]
    pub fn unsaved_designs(&self) -> &[UnsavedDesign] {
        &self.unsaved_designs
    }

    /// Watches another folder for scans, or none.
    pub fn watch(&mut self, folder: Option<&Path>) {
        self.watch = folder.map(Watch::new);
        self.preferences.watched_folder = folder.map(Path::to_owned);
        self.keep_preferences();
    }

    /// Asks for the gap and a cut across the limb at this height, mm; with none it stops asking.
    pub fn look_at_fit(&mut self, height_mm: Option<f32>) {
        self.derived.fit_at_mm = height_mm;
    }

    /// Asks for the weights of the whole looks, or stops asking.
    pub fn weigh_looks(&mut self, wanted: bool) {
        self.derived.looks_wanted = wanted;
    }

    /// Asks what a blow does to the guard, for a map of it, and what it would do to another wall, mm; or stops asking.
    pub fn look_at_strength(&mut self, wanted: bool, map: Option<StrengthMap>, other_wall_mm: Option<f32>) {
        let strength = &mut self.derived.strength;
        strength.other_wall_mm = other_wall_mm.filter(|_| wanted);
        strength.map_wanted = map.filter(|_| wanted);
        if !wanted {
            strength.wanted = None;
        } else if strength.wanted.as_ref().is_none_or(|materials| **materials != self.materials) {
            strength.wanted = Some(Arc::new(self.materials.clone()));
        }
    }

    /// Adds a filament of the user's own and keeps it for the next time, checked like any materials file.
    ///
    /// # Errors
    /// A value is not allowed, the name is taken, or the file cannot be written.
    pub fn add_material(&mut self, material: Material) -> Result<(), Problem> {
        self.materials = own_materials::add(&self.places.own_materials(), &self.materials, material)?;
        Ok(())
    }

    /// Writes the preferences.
    pub fn keep_preferences(&mut self) {
        if let Err(problem) = self.preferences.save(&self.places.preferences()) {
            self.notes.push(Note::Problem(problem));
        }
    }

    /// Stops all long work.
    pub fn stop(&mut self) {
        self.opening.cancel();
        self.exporting.cancel();
        self.seeking.end();
        self.derived.stop();
    }

    /// What is being worked on: what the user asked for first, then what follows from the document.
    #[must_use]
    pub fn progress(&self) -> Vec<Progress> {
        let asked_for =
            [self.opening.progress(), self.saving.progress(), self.exporting.progress(), self.seeking.progress()];
        let mut all: Vec<Progress> = asked_for.into_iter().flatten().collect();
        all.extend(self.derived.progress());
        all
    }

    /// Counts what has been opened, so that a new scan or design can be told from a change of the one that is open.
    #[must_use]
    pub fn opened(&self) -> u64 {
        self.derived.scan_number
    }

    /// Whether a scan or design is being opened.
    #[must_use]
    pub fn is_opening(&self) -> bool {
        self.opening.is_running()
    }

    /// Whether the design is being saved.
    #[must_use]
    pub fn is_saving(&self) -> bool {
        self.saving.is_running()
    }

    /// Whether print files are being written.
    #[must_use]
    pub fn is_exporting(&self) -> bool {
        self.exporting.is_running()
    }

    /// Picks up finished work, asks for what is missing and autosaves the document. Call it once a frame.
    pub fn poll(&mut self) -> Changed {
        let mut changed = Changed::default();
        match self.opening.take() {
            Some(Outcome::Done(Ok(opened))) => {
                self.take_in(opened);
                changed = Changed { limb: true, pen: true, zone: true, shell: true, fit: true, strength: true };
            }
            Some(Outcome::Done(Err(problem))) if problem.stopped => {}
            Some(Outcome::Done(Err(problem))) => self.notes.push(Note::Problem(problem)),
            Some(Outcome::Broken) => self.notes.push(Note::Problem(Problem::broken("opening"))),
            None => {}
        }
        match self.exporting.take() {
            Some(Outcome::Done(Ok((folder, report)))) => {
                self.notes.push(Note::Exported { folder, report: Arc::new(report) });
            }
            Some(Outcome::Done(Err(problem))) if problem.stopped => {}
            Some(Outcome::Done(Err(problem))) => self.notes.push(Note::Problem(problem)),
            Some(Outcome::Broken) => self.notes.push(Note::Problem(Problem::broken("writing the print files"))),
            None => {}
        }
        match self.saving.poll() {
            Some(Ok(request)) => self.is_saved(request),
            Some(Err(problem)) => self.notes.push(Note::NotSaved(problem)),
            None => {}
        }
        let sought = self.seeking.poll(&mut self.notes);
        let now = self.derived.poll();
        if now.limb {
            self.realign();
        }
        if let Some(document) = &self.document {
            self.derived.follow(document);
        }
        self.autosave();
        if let Some(watch) = &mut self.watch {
            self.notes.extend(watch.poll().into_iter().map(Note::ScanArrived));
        }
        Changed {
            limb: changed.limb | now.limb,
            pen: changed.pen | now.pen,
            zone: changed.zone | now.zone,
            shell: changed.shell | now.shell,
            fit: changed.fit | now.fit,
            strength: changed.strength | now.strength | sought,
        }
    }

    /// What the user should be told since the last call.
    pub fn take_notes(&mut self) -> Vec<Note> {
        std::mem::take(&mut self.notes)
    }

    /// Ends the sitting: waits for saves under way and drops unsaved work.
    pub fn end(&mut self) {
        self.stop();
        self.saving.wait();
        // An autosave under way would write its files again after they were removed.
        self.autosaving.wait();
        self.document = None;
        self.recovery.done();
    }
}
