//! A scan as a limb on its axes, and the pen line on it.

use mesh::{Cancelled, Job, Mesh, Surface};
use scan::pen::{PenFinding, PenSettings, filled_vertices, find_on_filled};
use scan::{BodySite, CleanSettings, CleaningReport, Limb, Placement, Side, clean};

use crate::{EngineError, LoadedScan};

/// A cleaned limb.
#[derive(Debug, Clone)]
pub struct LimbOnAxes {
    /// Its skin, in limb axes.
    pub skin: Surface,
    /// How it lies in the scan file.
    pub placement: Placement,
    /// Side of the body that it shows after any swap of left and right.
    pub side: Side,
    /// What cleaning did.
    pub report: CleaningReport,
    /// Whether each vertex was made up, as in a filled hole.
    pub made_up: Vec<bool>,
}

/// Cleans a scan and stands it on limb axes: those of `kept` where given, else those that cleaning finds.
///
/// # Errors
/// A setting is out of range, nothing is left, or the work was stopped.
pub fn limb(
    loaded: &LoadedScan,
    site: BodySite,
    side: Side,
    settings: &CleanSettings,
    kept: Option<&Placement>,
    job: &Job,
) -> Result<LimbOnAxes, EngineError> {
    let cleaned = clean(&loaded.scan, site, side, settings, &job.part(0.0, 0.9))?;
    let made_up = made_up(&cleaned.limb, &cleaned.report, &loaded.scan.mesh, job)?;
    let (mut mesh, mut placement) = (cleaned.limb.mesh, cleaned.limb.placement);
    if let Some(kept) = kept.filter(|kept| **kept != placement) {
        for p in &mut mesh.points {
            *p = kept.limb_from_scan(&placement.scan_from_limb(&p.cast())).cast();
        }
        placement = *kept;
    }
    job.step("preparing the skin", 0.9)?;
    let skin = Surface::build(mesh, job)?;
    Ok(LimbOnAxes { skin, placement, side: cleaned.limb.side, report: cleaned.report, made_up })
}

/// Whether each vertex was made up; saves the search where no hole was filled.
///
/// # Errors
/// The work was stopped.
pub(crate) fn made_up(limb: &Limb, report: &CleaningReport, scan: &Mesh, job: &Job) -> Result<Vec<bool>, Cancelled> {
    if report.holes.is_empty() {
        return Ok(vec![false; limb.mesh.points.len()]);
    }
    filled_vertices(limb, scan, job)
}

/// Looks for the pen line on a limb.
///
/// # Errors
/// The work was stopped.
pub fn pen_line(limb: &LimbOnAxes, job: &Job) -> Result<PenFinding, EngineError> {
    Ok(find_on_filled(&limb.skin, &limb.made_up, &PenSettings::default(), job)?)
}
