//! The materials on a guard, without writing its files.

use std::path::Path;

use locker::DesignFile;
use mechanics::{MaterialTable, Materials};
use mesh::Job;
use serde::Serialize;
use shell::Quality;

use crate::{EngineError, Warning, open, warnings};

/// The materials on one guard.
#[derive(Debug, Clone, Serialize)]
pub struct Comparison {
    /// Title of the design.
    pub title: String,
    /// What to look at before it is printed or worn.
    #[serde(serialize_with = "crate::warning::with_sentence::serialize")]
    pub warnings: Vec<Warning>,
    /// The table.
    #[serde(flatten)]
    pub table: MaterialTable,
}

/// Builds the shell of a design that lies in `folder` and compares the materials on it.
///
/// # Errors
/// As for making the guard.
pub fn compare(
    design: &DesignFile,
    folder: &Path,
    materials: &Materials,
    job: &Job,
) -> Result<Comparison, EngineError> {
    let opened = open(design, folder, &job.part(0.0, 0.4))?;
    let quality = Quality { voxel_mm: design.resolution_mm, tolerance_mm: design.tolerance_mm };
    let shell = shell::build(&opened.skin, &opened.zone, &design.shell, &quality, &job.part(0.4, 1.0))?;
    let area_mm2 = opened.zone.covered.area_mm2(&opened.skin);
    let table = mechanics::compare(shell.volume_mm3(), area_mm2, materials);
    Ok(Comparison { title: design.title.clone(), warnings: warnings(design, materials), table })
}
