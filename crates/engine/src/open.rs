//! A design on its limb: cleaned skin and zone, in the design's own axes.

use std::path::Path;

use locker::DesignFile;
use mesh::{Job, Surface};
use scan::{CleaningReport, Side, clean};
use zone::Zone;

use crate::EngineError;
use crate::scan_source::read_kept;

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
    let cleaned = clean(&loaded.scan, design.site, Side::Unknown, &design.clean, &job.part(0.15, 0.7))?;
    let mut mesh = cleaned.limb.mesh;
    let now = cleaned.limb.placement;
    if now != design.placement {
        // The points of the design are in the axes that its file names, wherever cleaning would stand the limb today.
        for p in &mut mesh.points {
            *p = design.placement.limb_from_scan(&now.scan_from_limb(&p.cast())).cast();
        }
    }
    let skin = Surface::new(mesh);
    let zone = zone::make(&skin, &design.zone, &job.part(0.7, 1.0))?;
    Ok(OpenDesign { skin, zone, cleaning: cleaned.report })
}
