//! Strokes, outlines and creases from a file, in the scan file's own coordinates.

use std::path::Path;

use mesh::{Job, Surface};
use nalgebra::Point3;
use scan::Placement;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use zone::{Dab, ExtraRegion, Source};

use crate::EngineError;

/// What somebody marked, in the scan file's own coordinates and unit; radii are mm.
#[derive(Debug, Clone, PartialEq)]
pub enum MarkedRegion {
    /// Dabs of a brush: middle, radius in mm, take away.
    Strokes(Vec<([f64; 3], f32, bool)>),
    /// Corners joined over the skin, and a point inside.
    Outline(Vec<[f64; 3]>, Option<[f64; 3]>),
}

impl MarkedRegion {
    /// The same in limb axes.
    #[must_use]
    pub fn source(&self, placement: &Placement) -> Source {
        let limb = |p: &[f64; 3]| -> Point3<f32> { placement.limb_from_scan(&Point3::from(*p)).cast() };
        match self {
            Self::Strokes(dabs) => Source::Strokes {
                dabs: dabs
                    .iter()
                    .map(|(at, radius_mm, remove)| Dab { at_mm: limb(at), radius_mm: *radius_mm, remove: *remove })
                    .collect(),
            },
            Self::Outline(corners, inside) => {
                Source::Outline { corners_mm: corners.iter().map(limb).collect(), inside_mm: inside.as_ref().map(limb) }
            }
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StrokesFile {
    strokes: Vec<Stroke>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Stroke {
    at: [f64; 3],
    radius_mm: f32,
    #[serde(default)]
    remove: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct OutlineFile {
    outline: Vec<[f64; 3]>,
    #[serde(default)]
    inside: Option<[f64; 3]>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CreaseFile {
    crease: Vec<[f64; 3]>,
    #[serde(default = "usual_crease_mm")]
    distance_mm: f32,
}

/// A guard usually ends this far from the crease of a joint, mm: the joint then folds without being hindered (common
/// practice of splint makers, without a published figure).
pub const USUAL_CREASE_MM: f32 = 10.0;

fn usual_crease_mm() -> f32 {
    USUAL_CREASE_MM
}

/// The crease of a joint: points along it in the scan file's own coordinates, and how far the guard keeps away, mm.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkedCrease {
    /// Two points or more, joined over the skin by the shortest way.
    pub points: Vec<[f64; 3]>,
    /// How far the guard keeps from it, mm.
    pub distance_mm: f32,
}

impl MarkedCrease {
    /// The skin that the guard keeps clear of.
    ///
    /// # Errors
    /// A point is far from the skin, there are fewer than two, the distance is not allowed, or the work was stopped.
    pub fn region(&self, skin: &Surface, placement: &Placement, job: &Job) -> Result<ExtraRegion, EngineError> {
        let limb = |p: &[f64; 3]| -> Point3<f32> { placement.limb_from_scan(&Point3::from(*p)).cast() };
        let points: Vec<Point3<f32>> = self.points.iter().map(limb).collect();
        Ok(zone::landmarks::crease_region(skin, &points, self.distance_mm, job)?)
    }
}

/// Reads `{"crease": [[x, y, z], …], "distance_mm": 10}`; the distance may be left out.
///
/// # Errors
/// The file cannot be read or is wrong, with the line, column and field.
pub fn read_crease(path: &Path) -> Result<MarkedCrease, EngineError> {
    let file: CreaseFile = read(path)?;
    Ok(MarkedCrease { points: file.crease, distance_mm: file.distance_mm })
}

/// Reads `{"strokes": [{"at": [x, y, z], "radius_mm": 20, "remove": false}, …]}`.
///
/// # Errors
/// The file cannot be read or is wrong, with the line, column and field.
pub fn read_strokes(path: &Path) -> Result<MarkedRegion, EngineError> {
    let file: StrokesFile = read(path)?;
    Ok(MarkedRegion::Strokes(file.strokes.into_iter().map(|s| (s.at, s.radius_mm, s.remove)).collect()))
}

/// Reads `{"outline": [[x, y, z], …], "inside": [x, y, z]}`; the point inside may be left out.
///
/// # Errors
/// The file cannot be read or is wrong, with the line, column and field.
pub fn read_outline(path: &Path) -> Result<MarkedRegion, EngineError> {
    let file: OutlineFile = read(path)?;
    Ok(MarkedRegion::Outline(file.outline, file.inside))
}

fn read<T: DeserializeOwned>(path: &Path) -> Result<T, EngineError> {
    let bytes = std::fs::read(path).map_err(|source| EngineError::File { path: path.into(), source })?;
    plain_json::read_bytes(&bytes).map_err(|slip| {
        let plain_json::Slip { line, column, field, why } = slip;
        EngineError::Marks { path: path.into(), line, column, field, why }
    })
}
