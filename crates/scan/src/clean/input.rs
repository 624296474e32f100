//! Taking the file in: what is no triangle, what is far off, and which unit it is in.

use mesh::read::ScanFile;
use mesh::{Adjacency, Cancelled, Job, Mesh, repair};
use nalgebra::Vector3;

use super::Cleaning;
use super::outliers::{Outliers, check_size, drop_outliers, longest_side};
use crate::report::{count, said_length};
use crate::{CleanSettings, CleaningReport, LimbSize, ScanError, ScanWarning, UnitGuess};

/// More than a scan of a whole hall, mm; beyond it single precision does not hold a limb's points.
const LARGEST_SCAN_MM: f64 = 100_000.0;

/// A part far from the limb with more than this share of its triangles is worth a warning.
const LARGE_PART: f64 = 0.05;

/// The unit of a file whose equal points are joined, from the size of the limb without outliers.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub(crate) fn unit_of_limb(mesh: &Mesh, settings: &CleanSettings, job: &Job) -> Result<UnitGuess, Cancelled> {
    let mut limb = mesh.clone();
    drop_outliers(&mut limb, &settings.crop, job)?;
    guess_unit(&limb, job)
}

/// The unit of a mesh whose equal points are joined, from the size of its largest curved component.
fn guess_unit(mesh: &Mesh, job: &Job) -> Result<UnitGuess, Cancelled> {
    let components = repair::components(mesh, &Adjacency::build(mesh, job)?, job)?;
    let limb = components.iter().find(|c| !c.is_flat()).or(components.first());
    let points = limb.iter().flat_map(|c| &c.triangles).flat_map(|t| mesh.corners(*t as usize));
    Ok(UnitGuess::from_longest_side(longest_side(points)))
}

impl<'a> Cleaning<'a> {
    pub(super) fn new(file: &ScanFile, settings: &'a CleanSettings, job: &'a Job) -> Result<Self, ScanError> {
        job.step("looking at the scan", 0.0)?;
        let mut mesh = file.mesh.clone();
        let bad = repair::drop_bad_faces(&mut mesh, job)?;
        let joined = if settings.weld_tolerance_mm.is_some() {
            repair::weld(&mut mesh, 0.0, job)?
        } else {
            repair::drop_unused_points(&mut mesh);
            0
        };
        job.check()?;
        if mesh.area_mm2() <= 0.0 {
            return Err(ScanError::NoSurface { triangles: file.mesh.triangles.len() });
        }
        let outliers = drop_outliers(&mut mesh, &settings.crop, job)?;
        job.check()?;
        let unit = match settings.unit {
            Some(unit) => UnitGuess::given(unit),
            None => guess_unit(&mesh, job)?,
        };
        check_size(&mesh, unit.unit, LARGEST_SCAN_MM)?;
        let warnings = if unit.sure { Vec::new() } else { vec![ScanWarning::UnitUnsure { why: unit.why.clone() }] };
        let report = CleaningReport {
            unit,
            steps: Vec::new(),
            holes: Vec::new(),
            noise_mm: 0.0,
            size: LimbSize::default(),
            warnings,
        };
        let dropped = [bad.degenerate + bad.flat, bad.duplicate];
        let mut cleaning = Self { settings, job, mesh, report, shift: Vector3::zeros(), dropped };
        if joined > 0 {
            let text = format!("{} joined that lay in the same place.", count(joined, "point was", "points were"));
            cleaning.say("join", true, &[("points", joined)], text);
        }
        cleaning.say_outliers(&outliers);
        Ok(cleaning)
    }

    fn say_outliers(&mut self, found: &Outliers) {
        if found.triangles == 0 {
            return;
        }
        let text = format!(
            "{} far from the limb (up to {} from its middle) and {} dropped with {}.",
            count(found.points, "point lay", "points lay"),
            said_length(found.farthest * self.report.unit.unit.mm()),
            if found.points == 1 { "was" } else { "were" },
            count(found.triangles, "triangle", "triangles"),
        );
        if found.apart as f64 > LARGE_PART * self.mesh.triangles.len() as f64 {
            self.report.warnings.push(ScanWarning::FarPart);
        }
        self.say("outliers", true, &[("points", found.points), ("triangles", found.triangles)], text);
    }
}
