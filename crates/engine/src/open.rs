//! A design on its limb: cleaned skin and zone, in the design's own axes.

use std::path::Path;

use locker::DesignFile;
use mesh::{Job, Surface};
use scan::{CleaningReport, Side};
use zone::Zone;

use crate::scan_source::read_kept;
use crate::{EngineError, limb};

/// A design with the limb and zone that it stands on.
#[derive(Debug, Clone)]
pub struct OpenDesign {
    /// The limb's skin, in the design's axes.
    pub skin: Surface,
    /// What is covered.
    pub zone: Zone,
    /// What cleaning did.
    pub cleaning: CleaningReport,
}

/// Opens a design that lies in `folder`: reads and cleans its scan and makes its zone.
///
/// # Errors
/// The scan is missing, or cleaning or the zone fails.
pub fn open(design: &DesignFile, folder: &Path, job: &Job) -> Result<OpenDesign, EngineError> {
    let loaded = read_kept(&design.scan, folder, &job.part(0.0, 0.15))?;
    let kept = Some(&design.placement);
    let limb = limb(&loaded, design.site, Side::Unknown, &design.clean, kept, &job.part(0.15, 0.7))?;
    let zone = zone::make(&limb.skin, &design.zone, &job.part(0.7, 1.0))?;
    Ok(OpenDesign { skin: limb.skin, zone, cleaning: limb.report })
}
