//! Opening a scan or a design, on a thread of its own.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use engine::{EngineError, LimbOnAxes, LoadedScan};
use locker::DesignFile;
use nalgebra::Point3;
use scan::{BodySite, CleanSettings, Side, UnitGuess};

use crate::document::Document;
use crate::{Note, Problem, Recovery, Session, UnsavedDesign};

/// The scan as read, to be shown while it is cleaned: in mm, the centre of its bounding box at the origin.
#[derive(Debug, Clone)]
pub struct RawScan {
    /// Its surface.
    pub mesh: mesh::Mesh,
    /// Normals, one per point.
    pub normals: Vec<nalgebra::Vector3<f32>>,
    /// Its lowest and highest coordinates.
    pub bounds: Option<(Point3<f32>, Point3<f32>)>,
}

/// Where the opening task leaves the raw scan.
pub(crate) type RawSlot = Arc<Mutex<Option<Arc<RawScan>>>>;

/// The result of opening.
pub(crate) struct Opened {
    pub(crate) design: DesignFile,
    pub(crate) loaded: LoadedScan,
    pub(crate) limb: LimbOnAxes,
    pub(crate) path: Option<PathBuf>,
    pub(crate) from: OpenedFrom,
    pub(crate) notices: Vec<String>,
    /// The unsaved work that it was, offered until it is taken in.
    pub(crate) unsaved: Option<UnsavedDesign>,
}

/// What a document was opened from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OpenedFrom {
    /// A scan: nothing has been edited yet, and site and side are still to be given.
    Scan,
    /// A saved design.
    Design,
    /// Unsaved work of a sitting that ended unexpectedly.
    UnsavedWork,
}

impl std::fmt::Debug for Opened {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Opened").field("path", &self.path).finish_non_exhaustive()
    }
}

impl Session {
    /// Opens a scan or a design file, told apart by content. It replaces the open document; ask first.
    pub fn open(&mut self, path: &Path, site: BodySite, side: Side) {
        let (path, home) = (path.to_owned(), self.recovery.folder().to_owned());
        // A new slot each time, so that nothing of stopped work is shown.
        self.raw = RawSlot::default();
        let raw = Arc::clone(&self.raw);
        self.opening.start(move |job| open_file(path, &home, site, side, &raw, job));
    }

    /// The scan that is being opened, once it has been read and until it is clean.
    #[must_use]
    pub fn raw_scan(&self) -> Option<Arc<RawScan>> {
        self.opening.is_running().then(|| self.raw.lock().unwrap_or_else(PoisonError::into_inner).clone()).flatten()
    }

    /// Opens the demo: a shin with the lower half of its mark painted. It replaces the open document; ask first.
    pub fn open_demo(&mut self) {
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
    pub fn restore(&mut self, unsaved: &UnsavedDesign) {
        let (unsaved, home) = (unsaved.clone(), self.recovery.folder().to_owned());
        self.opening.start(move |job| {
            let mut opened = open_design(&unsaved.design, &home, job)?;
            opened.path = unsaved.saved_as.clone();
            opened.from = OpenedFrom::UnsavedWork;
            Recovery::autosave(&home, &opened.design, unsaved.saved_as.as_deref())?;
            opened.unsaved = Some(unsaved);
            Ok(opened)
        });
    }

    /// Throws unsaved work away.
    pub fn discard(&mut self, unsaved: &UnsavedDesign) {
        self.unsaved_designs.retain(|l| l != unsaved);
        if let Err(problem) = Recovery::discard(unsaved) {
            self.notes.push(Note::Problem(problem));
        }
    }

    pub(crate) fn take_in(&mut self, opened: Opened) {
        let Opened { design, loaded, limb, path, from, notices, unsaved } = opened;
        let title = design.title.clone();
        self.derived.clear();
        self.seeking.forget();
        let mut document = Document::new(design, Arc::new(loaded), path.clone(), from);
        document.saved = (from == OpenedFrom::Design).then(|| Arc::clone(document.history.now()));
        document.untouched = (from == OpenedFrom::Scan).then(|| Arc::clone(document.history.now()));
        let key = self.derived.limb_key(document.design(), document.kept_axes);
        self.derived.limb.put(key, Arc::new(limb));
        self.autosaved = document.saved.clone();
        self.differs_since = None;
        self.document = Some(document);
        if from != OpenedFrom::UnsavedWork {
            // What was open before was saved or given up.
            self.recovery.done();
        }
        if let Some(path) = path {
            self.preferences.remember(&path);
            self.keep_preferences();
        }
        if let Some(unsaved) = unsaved.filter(|unsaved| self.unsaved_designs.contains(unsaved)) {
            self.discard(&unsaved);
        }
        self.notes.push(Note::Opened(title));
        self.notes.extend(notices.into_iter().map(|n| Note::Problem(Problem::plain(n))));
    }
}

/// Opens a design where the file starts like one, otherwise a scan.
pub(crate) fn open_file(
    path: PathBuf,
    home: &Path,
    site: BodySite,
    side: Side,
    raw: &RawSlot,
    job: &mesh::Job,
) -> Result<Opened, Problem> {
    if looks_like_json(&path) {
        let mut opened = open_design(&path, home, job)?;
        opened.path = Some(path);
        return Ok(opened);
    }
    open_scan(&path, home, site, side, raw, job)
}

pub(crate) fn open_scan(
    path: &Path,
    home: &Path,
    site: BodySite,
    side: Side,
    raw: &RawSlot,
    job: &mesh::Job,
) -> Result<Opened, Problem> {
    let loaded = engine::read_scan(path, &job.part(0.0, 0.3))?;
    *raw.lock().unwrap_or_else(PoisonError::into_inner) = Some(Arc::new(raw_scan(&loaded, job)?));
    let clean = CleanSettings::default();
    let limb = engine::limb(&loaded, site, side, &clean, None, &job.part(0.3, 1.0))?;
    let kept = locker::keep_beside(&loaded.bytes, home, job).map_err(EngineError::from)?;
    let mut design = engine::new_design(&limb, site, &clean, None, kept);
    // Left open if the file does not say, until the user does.
    design.clean.unit = design.clean.unit.filter(|_| limb.report.unit.sure);
    let notices = limb.report.warnings.iter().map(ToString::to_string).collect();
    Ok(Opened { design, loaded, limb, path: None, from: OpenedFrom::Scan, notices, unsaved: None })
}

/// The scan as read, its unit guessed from its longest side.
fn raw_scan(loaded: &LoadedScan, job: &mesh::Job) -> Result<RawScan, EngineError> {
    let mut mesh = loaded.scan.mesh.clone();
    if let Some((low, high)) = mesh.bounds() {
        let middle = nalgebra::center(&low, &high);
        let unit_mm = UnitGuess::from_longest_side(f64::from((high - low).max())).unit.mm() as f32;
        mesh.points.iter_mut().for_each(|p| *p = Point3::from((*p - middle) * unit_mm));
    }
    let normals = mesh.build_vertex_normals(job)?;
    Ok(RawScan { bounds: mesh.bounds(), mesh, normals })
}

pub(crate) fn open_design(path: &Path, home: &Path, job: &mesh::Job) -> Result<Opened, Problem> {
    let mut design = locker::load_design(path).map_err(EngineError::from)?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let loaded = engine::read_kept(&design.scan, folder, &job.part(0.0, 0.3))?;
    let axes = Some(&design.placement);
    let limb = engine::limb(&loaded, design.site, Side::Unknown, &design.clean, axes, &job.part(0.3, 1.0))?;
    // The scan is kept beside it, so that the design stays small while it is worked on.
    design.scan = locker::keep_beside(&loaded.bytes, home, job).map_err(EngineError::from)?;
    Ok(Opened { design, loaded, limb, path: None, from: OpenedFrom::Design, notices: Vec::new(), unsaved: None })
}

/// Whether the first character other than white space is an opening brace.
fn looks_like_json(path: &Path) -> bool {
    use std::io::Read;
    let mut first = [0; 256];
    let Ok(count) = std::fs::File::open(path).and_then(|mut file| file.read(&mut first)) else { return false };
    first[..count].iter().find(|b| !b.is_ascii_whitespace()) == Some(&b'{')
}
