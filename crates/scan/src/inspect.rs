//! What a scan file shows before it is cleaned for good.

use mesh::read::ScanFile;
use mesh::{Adjacency, Cancelled, Job, repair};
use serde::Serialize;

use crate::clean::unit_of_limb;
use crate::{BodySite, CleanSettings, CleaningReport, Limb, ScanError, Side, UnitGuess, clean};

/// What was found in a scan file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Inspection {
    /// The unit and why.
    pub unit: UnitGuess,
    /// Sides of the box around everything in the file, mm in that unit.
    pub size_mm: [f64; 3],
    /// Triangles in the file.
    pub triangles: usize,
    /// Points in the file, equal ones counted once.
    pub points: usize,
    /// Edges with a triangle on one side only.
    pub open_edges: usize,
    /// Connected components.
    pub pieces: usize,
    /// Whether there are colours, at the points or as a picture.
    pub colours: bool,
    /// What cleaning would do with the same settings; none where it would fail.
    pub cleaning: Option<CleaningReport>,
    /// Why cleaning would fail.
    pub trouble: Option<String>,
}

/// Looks at a scan and says what cleaning it with `settings` would do; nothing is changed. Returns the cleaned limb as
/// well, where cleaning succeeds.
///
/// # Errors
/// [`Cancelled`] when the job is stopped.
pub fn inspect(file: &ScanFile, settings: &CleanSettings, job: &Job) -> Result<(Inspection, Option<Limb>), Cancelled> {
    let mut mesh = file.mesh.clone();
    repair::drop_bad_faces(&mut mesh, job)?;
    repair::weld(&mut mesh, 0.0, job)?;
    let adjacency = Adjacency::build(&mesh, job)?;
    let unit = match settings.unit {
        Some(unit) => UnitGuess::given(unit),
        None => unit_of_limb(&mesh, settings, job)?,
    };
    job.check()?;
    let (limb, cleaning, trouble) = match clean(file, BodySite::Other, Side::Unknown, settings, job) {
        Ok(cleaned) => (Some(cleaned.limb), Some(cleaned.report), None),
        Err(ScanError::Cancelled(cancelled)) => return Err(cancelled),
        Err(error) => (None, None, Some(error.to_string())),
    };
    let size = mesh.bounds().map_or([0.0; 3], |(lo, hi)| (hi.cast::<f64>() - lo.cast::<f64>()).into());
    let inspection = Inspection {
        size_mm: size.map(|x: f64| x * unit.unit.mm()),
        unit,
        triangles: file.mesh.triangles.len(),
        points: mesh.points.len(),
        open_edges: adjacency.open_edges,
        pieces: adjacency.connected_components().1,
        colours: file.mesh.colours.is_some() || file.texture.is_some(),
        cleaning,
        trouble,
    };
    Ok((inspection, limb))
}
