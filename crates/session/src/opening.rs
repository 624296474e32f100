//! Opening a scan or a design, on a thread of its own.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use engine::{EngineError, LimbOnAxes, LoadedScan};
use locker::DesignFile;
use nalgebra::Point3;
use scan::{BodySite, CleanSettings, Side, UnitGuess};

use crate::Problem;

/// The scan as it came, to be seen while it is being cleaned: in millimetres, the middle of its box at the origin.
#[derive(Debug, Clone)]
pub struct RawScan {
    /// Its surface.
    pub mesh: mesh::Mesh,
    /// Normals, one a point.
    pub normals: Vec<nalgebra::Vector3<f32>>,
    /// Its lowest and highest coordinates.
    pub bounds: Option<(Point3<f32>, Point3<f32>)>,
}

/// Where the work of opening leaves the raw scan.
pub(crate) type RawSlot = Arc<Mutex<Option<Arc<RawScan>>>>;

/// What opening brings.
pub(crate) struct Opened {
    pub(crate) design: DesignFile,
    pub(crate) loaded: LoadedScan,
    pub(crate) limb: LimbOnAxes,
    pub(crate) path: Option<PathBuf>,
    pub(crate) origin: Origin,
    pub(crate) notices: Vec<String>,
}

/// Where what was opened had been.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Origin {
    /// In a scan: nothing was done to it yet.
    Scan,
    /// In a saved design.
    Design,
    /// In unsaved work that somebody left behind.
    Leftover,
}

impl std::fmt::Debug for Opened {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Opened").field("path", &self.path).finish_non_exhaustive()
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
    *raw.lock().unwrap_or_else(PoisonError::into_inner) = Some(Arc::new(raw_scan(&loaded)));
    let clean = CleanSettings::default();
    let limb = engine::limb(&loaded, site, side, &clean, None, &job.part(0.3, 1.0))?;
    let kept = locker::keep_beside(&loaded.bytes, home).map_err(EngineError::from)?;
    let mut design = engine::new_design(&limb, site, &clean, None, kept);
    // Left open where the file does not tell, until somebody says.
    design.clean.unit = design.clean.unit.filter(|_| limb.report.unit.sure);
    let notices = limb.report.warnings.clone();
    Ok(Opened { design, loaded, limb, path: None, origin: Origin::Scan, notices })
}

/// The scan as it came, with its longest side taken for that of a limb.
fn raw_scan(loaded: &LoadedScan) -> RawScan {
    let mut mesh = loaded.scan.mesh.clone();
    if let Some((low, high)) = mesh.bounds() {
        let middle = nalgebra::center(&low, &high);
        let unit_mm = UnitGuess::from_longest_side(f64::from((high - low).max())).unit.mm() as f32;
        mesh.points.iter_mut().for_each(|p| *p = Point3::from((*p - middle) * unit_mm));
    }
    let normals = mesh.vertex_normals();
    RawScan { bounds: mesh.bounds(), mesh, normals }
}

pub(crate) fn open_design(path: &Path, home: &Path, job: &mesh::Job) -> Result<Opened, Problem> {
    let mut design = locker::load_design(path).map_err(EngineError::from)?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let loaded = engine::read_kept(&design.scan, folder, &job.part(0.0, 0.3))?;
    let axes = Some(&design.placement);
    let limb = engine::limb(&loaded, design.site, Side::Unknown, &design.clean, axes, &job.part(0.3, 1.0))?;
    // Beside, so that the design stays small while it is worked on.
    design.scan = locker::keep_beside(&loaded.bytes, home).map_err(EngineError::from)?;
    Ok(Opened { design, loaded, limb, path: None, origin: Origin::Design, notices: Vec::new() })
}

/// Whether the first sign that is no blank is a brace.
fn looks_like_json(path: &Path) -> bool {
    use std::io::Read;
    let mut first = [0; 256];
    let Ok(count) = std::fs::File::open(path).and_then(|mut file| file.read(&mut first)) else { return false };
    first[..count].iter().find(|b| !b.is_ascii_whitespace()) == Some(&b'{')
}
