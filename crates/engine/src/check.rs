//! Whether a mesh file is a printable solid, and a sound one.

use std::path::Path;

use mesh::read::survey;
use mesh::sound::SoundLimits;
use mesh::{Job, repair};
use serde::Serialize;

use crate::{EngineError, SolidFaults, Soundness, read_scan};

/// The findings on a mesh file. Lengths are in the file's own unit, which print files do not always say.
#[derive(Debug, Clone, Serialize)]
pub struct CheckReport {
    /// Whether it can be printed: a solid in one piece.
    pub printable: bool,
    /// The proof.
    pub solid: SolidFaults,
    /// How sound it is, its unit taken as millimetres; nothing where it is no solid.
    pub sound: Option<Soundness>,
    /// Sides of its box.
    pub size: [f32; 3],
    /// Triangles in the file.
    pub triangles: usize,
    /// What was odd but could be read.
    pub warnings: Vec<String>,
}

/// Examines a mesh file.
///
/// # Errors
/// The file cannot be read, or the work was stopped.
pub fn check(path: &Path, job: &Job) -> Result<CheckReport, EngineError> {
    let loaded = read_scan(path, &job.part(0.0, 0.3))?;
    let mut mesh = loaded.scan.mesh;
    let triangles = mesh.triangles.len();
    let size = survey(&mesh, job)?.size;
    // Formats such as STL repeat a point for each of its triangles.
    repair::weld(&mut mesh, 0.0, job)?;
    job.step("proving the solid", 0.4)?;
    let solid = SolidFaults::from(&mesh::solid::check(&mesh, &job.part(0.4, 0.7))?);
    let sound = if solid.is_solid {
        job.step("measuring walls and edges", 0.7)?;
        Some(mesh::sound::sound(&mesh, &SoundLimits::default(), job)?.into())
    } else {
        None
    };
    let mut warnings = loaded.scan.warnings;
    if solid.is_solid && solid.pieces > 1 {
        warnings.push(format!("it is in {} pieces, which would fall apart", solid.pieces));
    }
    Ok(CheckReport { printable: solid.is_solid && solid.pieces == 1, solid, sound, size, triangles, warnings })
}
