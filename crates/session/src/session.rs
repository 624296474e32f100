//! The session: opens, edits, saves, and keeps everything that follows up to date.

use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError};
use std::time::{Duration, Instant};

use engine::{EngineError, MakeReport, MakeSettings};
use locker::DesignFile;
use mechanics::{Material, Materials};
use scan::{BodySite, Side};

use crate::derived::{Changed, Derived};
use crate::document::{Document, on_axes};
use crate::opening::{Opened, Origin, RawScan, RawSlot, open_design, open_file, open_scan};
use crate::own_materials;
use crate::saving::{Request, Saving};
use crate::task::{Outcome, Task};
use crate::{Leftover, Places, Preferences, Problem, Progress, Recovery, Watch};

/// Longest time between a change and its autosave.
const AUTOSAVE_AFTER: Duration = Duration::from_millis(800);

/// Something to tell the user.
#[derive(Debug, Clone)]
pub enum Note {
    /// A design or scan is open.
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
    places: Places,
    recovery: Recovery,
    leftovers: Vec<Leftover>,
    document: Option<Document>,
    derived: Derived,
    opening: Task<Result<Opened, Problem>>,
    raw: RawSlot,
    exporting: Task<Result<(PathBuf, MakeReport), Problem>>,
    saving: Saving,
    autosaving: Task<Result<(), Problem>>,
    /// What was saved by itself last, and when the document was first seen to differ from it.
    autosaved: Option<Arc<DesignFile>>,
    differs_since: Option<Instant>,
    watch: Option<Watch>,
    notes: Vec<Note>,
}

impl Session {
    /// Begins a sitting.
    ///
    /// # Errors
    /// There is no place for unsaved work.
    pub fn begin(places: Places) -> Result<Self, Problem> {
        let preferences = Preferences::load(&places.preferences());
        let (recovery, leftovers) = Recovery::begin(&places.recovery)?;
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
            leftovers,
            document: None,
            derived: Derived::default(),
            opening: Task::default(),
            raw: RawSlot::default(),
            exporting: Task::default(),
            saving: Saving::default(),
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

    /// The design as it is.
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
    pub fn leftovers(&self) -> &[Leftover] {
        &self.leftovers
    }

    /// Opens a scan or a design file, told apart by content. What was open is dropped; ask before.
    pub fn open(&mut self, path: &Path, site: BodySite, side: Side) {
        let (path, home) = (path.to_owned(), self.recovery.folder().to_owned());
        // A slot of its own, so that work that was stopped leaves nothing in sight.
        self.raw = RawSlot::default();
        let raw = Arc::clone(&self.raw);
        self.opening.start(move |job| open_file(path, &home, site, side, &raw, job));
    }

    /// The scan that is being opened, once it has been read and until it is clean.
    #[must_use]
    pub fn raw_scan(&self) -> Option<Arc<RawScan>> {
        self.opening.is_running().then(|| self.raw.lock().unwrap_or_else(PoisonError::into_inner).clone()).flatten()
    }

    /// Opens the demo: a shin with the lower half of its mark painted. What was open is dropped; ask before.
    pub fn open_demo(&mut self) {
        self.preferences.demo_seen = true;
        self.keep_preferences();
        let home = self.recovery.folder().to_owned();
        self.raw = RawSlot::default();
        let raw = Arc::clone(&self.raw);
        self.opening.start(move |job| {
            let scan = engine::DEMO_SHIN.find(&home.join("demo"))?;
            let mut opened = open_scan(&scan, &home, BodySite::Shin, Side::Left, &raw, &job.part(0.0, 0.6))?;
            opened.design.zone.sources.push(engine::half_painted(&opened.limb, &job.part(0.6, 1.0))?);
            opened.design.squad_number = Some(23);
            opened.design.title = engine::title_for(BodySite::Shin, opened.design.side, Some(23));
            Ok(opened)
        });
    }

    /// Opens unsaved work that was found at the start.
    pub fn restore(&mut self, leftover: &Leftover) {
        let (leftover, home) = (leftover.clone(), self.recovery.folder().to_owned());
        self.leftovers.retain(|l| *l != leftover);
        self.opening.start(move |job| {
            let mut opened = open_design(&leftover.design, &home, job)?;
            opened.path = leftover.saved_as.clone();
            opened.origin = Origin::Leftover;
            Recovery::autosave(&home, &opened.design, leftover.saved_as.as_deref())?;
            Recovery::discard(&leftover)?;
            Ok(opened)
        });
    }

    /// Throws unsaved work away.
    pub fn discard(&mut self, leftover: &Leftover) {
        self.leftovers.retain(|l| l != leftover);
        if let Err(problem) = Recovery::discard(leftover) {
            self.notes.push(Note::Problem(problem));
        }
    }

    /// One undoable change of the design.
    pub fn edit(&mut self, label: &str, change: impl FnOnce(&mut DesignFile)) {
        self.change(|document| document.history.edit(label, change));
    }

    /// As [`Session::edit`], joined with the change before while it has the same label, until [`Session::settle`].
    pub fn edit_live(&mut self, label: &str, change: impl FnOnce(&mut DesignFile)) {
        self.change(|document| document.history.edit_live(label, change));
    }

    fn change(&mut self, apply: impl FnOnce(&mut Document) -> bool) {
        let Some(document) = &mut self.document else { return };
        let before = Arc::clone(document.history.now());
        let aligned = document.kept_axes.is_some();
        if apply(document) {
            if !aligned {
                document.unaligned.push(Arc::clone(&before));
            }
            document.carry_over();
            if before.clean.upright != document.design().clean.upright {
                document.kept_axes = None;
            }
            self.derived.follow(document);
        }
    }

    /// Ends a live change, as when the mouse is let go.
    pub fn settle(&mut self) {
        if let Some(document) = &mut self.document {
            document.history.settle();
            self.derived.follow(document);
        }
    }

    /// Takes the last change back; its label.
    pub fn undo(&mut self) -> Option<String> {
        self.travel(|document| document.history.undo())
    }

    /// Makes it again; its label.
    pub fn redo(&mut self) -> Option<String> {
        self.travel(|document| document.history.redo())
    }

    fn travel(&mut self, go: impl FnOnce(&mut Document) -> Option<String>) -> Option<String> {
        let document = self.document.as_mut()?;
        let left = Arc::clone(document.history.now());
        let label = go(document)?;
        if document.kept_axes.is_none() {
            document.unaligned.push(left);
        }
        let now = document.history.now();
        let unaligned = document.unaligned.iter().position(|state| Arc::ptr_eq(state, now));
        document.kept_axes = match unaligned {
            Some(at) => {
                document.unaligned.swap_remove(at);
                None
            }
            None => Some(now.placement),
        };
        self.derived.follow(document);
        Some(label)
    }

    /// Saves where it was saved before; whether there is such a place.
    pub fn save(&mut self) -> bool {
        let Some(path) = self.document.as_ref().and_then(|d| d.path.clone()) else { return false };
        self.save_as(&path);
        true
    }

    /// Saves the design as it is now as `path`, with its scan beside it, in the background; a note tells when it is done.
    pub fn save_as(&mut self, path: &Path) {
        let Some(document) = &mut self.document else { return };
        document.history.settle();
        self.saving.ask(Request {
            path: path.to_owned(),
            design: Arc::clone(document.history.now()),
            loaded: Arc::clone(&document.loaded),
        });
    }

    fn is_saved(&mut self, request: Request) {
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

    /// Writes the print files of the design into `folder`, in the background.
    pub fn export(&mut self, folder: &Path, made_on: Option<String>) {
        let Some(document) = &self.document else { return };
        let (design, loaded) = (document.design().clone(), Arc::clone(&document.loaded));
        let (home, out) = (self.recovery.folder().to_owned(), folder.to_owned());
        let materials = self.materials.clone();
        let team = Some(self.preferences.team.clone()).filter(|t| !t.is_empty());
        let settings = MakeSettings { team, made_on, ..MakeSettings::default() };
        self.exporting.start(move |job| {
            locker::keep_beside(&loaded.bytes, &home).map_err(EngineError::from)?;
            let report = engine::make(&design, &home, &out, &settings, &materials, job)?;
            Ok((out, report))
        });
    }

    /// Watches another folder for scans, or none.
    pub fn watch(&mut self, folder: Option<&Path>) {
        self.watch = folder.map(Watch::new);
        self.preferences.watched_folder = folder.map(Path::to_owned);
        self.keep_preferences();
    }

    /// Looks at the gap and at a cut across the limb at this height, mm, or no longer does.
    pub fn look_at_fit(&mut self, height_mm: Option<f32>) {
        self.derived.fit_at_mm = height_mm;
    }

    /// Adds a filament of one's own and keeps it for the next time, checked as any materials file.
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
        self.derived.stop();
    }

    /// What is being worked on: what the user asked for first, then what follows from the document.
    #[must_use]
    pub fn progress(&self) -> Vec<Progress> {
        let mut all: Vec<Progress> = [self.opening.progress(), self.saving.progress(), self.exporting.progress()]
            .into_iter()
            .flatten()
            .collect();
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

    /// Picks up finished work, asks for what is missing and saves the document by itself. Call it once a frame.
    pub fn poll(&mut self) -> Changed {
        let mut changed = Changed::default();
        match self.opening.take() {
            Some(Outcome::Done(Ok(opened))) => {
                self.take_in(opened);
                changed = Changed { limb: true, pen: true, zone: true, shell: true, fit: true };
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
        }
    }

    /// What the user should be told since the last call.
    pub fn take_notes(&mut self) -> Vec<Note> {
        std::mem::take(&mut self.notes)
    }

    fn take_in(&mut self, opened: Opened) {
        let Opened { design, loaded, limb, path, origin, notices } = opened;
        let title = design.title.clone();
        self.derived.clear();
        let mut document = Document::new(design, Arc::new(loaded), path.clone());
        document.saved = (origin == Origin::Design).then(|| Arc::clone(document.history.now()));
        document.untouched = (origin == Origin::Scan).then(|| Arc::clone(document.history.now()));
        let key = self.derived.limb_key(document.design(), document.kept_axes);
        self.derived.limb.put(key, Arc::new(limb));
        self.autosaved = document.saved.clone();
        self.differs_since = None;
        self.document = Some(document);
        if origin != Origin::Leftover {
            // What was open before was saved or given up.
            self.recovery.done();
        }
        if let Some(path) = path {
            self.preferences.remember(&path);
            self.keep_preferences();
        }
        self.notes.push(Note::Opened(title));
        self.notes.extend(notices.into_iter().map(|n| Note::Problem(Problem::plain(n))));
    }

    /// After a change of cleaning that lets the limb stand anew: the design's points follow it.
    fn realign(&mut self) {
        let Some(document) = &mut self.document else { return };
        if document.kept_axes.is_some() {
            return;
        }
        let key = self.derived.limb_key(document.design(), None);
        let Some(limb) = self.derived.limb.current(&key) else { return };
        let axes = limb.placement;
        document.history.amend(|design| on_axes(design, &axes));
        document.kept_axes = Some(axes);
        let key = self.derived.limb_key(document.design(), Some(axes));
        self.derived.limb.rename(key);
    }

    fn autosave(&mut self) {
        match self.autosaving.take() {
            Some(Outcome::Done(Err(problem))) => self.notes.push(Note::Problem(problem)),
            Some(Outcome::Broken) => self.notes.push(Note::Problem(Problem::broken("the autosave"))),
            // It was saved, or another opened, while it was written.
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
            locker::keep_beside(&loaded.bytes, &folder).map_err(EngineError::from)?;
            Recovery::autosave(&folder, &design, saved_as.as_deref())
        });
    }

    /// Ends the sitting: what is unsaved and not to be kept is dropped.
    pub fn end(&mut self) {
        self.stop();
        self.saving.wait();
        // An autosave that is under way would come back after it was cleared away.
        self.autosaving.wait();
        self.document = None;
        self.recovery.done();
    }
}
