//! What can be wrong with a zone, in words for the user.

use mesh::geodesic::LineError;
use mesh::{Cancelled, Place};
use nalgebra::Point3;

use crate::limits::refused;

/// Why no zone could be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ZoneError {
    /// Stopped by its job.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
    /// A number outside its range.
    #[error("Zone setting {field} is {}; it must be from {low} to {high}.", refused(*value, *low, *high))]
    OutOfRange {
        /// Name of the field.
        field: String,
        /// What was given.
        value: f32,
        /// Least allowed.
        low: f32,
        /// Most allowed.
        high: f32,
    },
    /// A closed line needs three points.
    #[error("Zone setting {field} has {found} points; a closed line needs at least 3 different ones.")]
    TooFewPoints {
        /// Name of the field.
        field: String,
        /// How many it has.
        found: usize,
    },
    /// A point is nowhere near the skin.
    #[error(
        "{what} at {} mm is {distance_mm:.0} mm away from the skin; give a point at most {limit_mm:.0} mm \
         off it, in mm from the middle of the limb, z along it.",
        Place::new(at, 1)
    )]
    OffSkin {
        /// What the point is.
        what: String,
        /// Where it is.
        at: Point3<f32>,
        /// How far from the skin.
        distance_mm: f32,
        /// How far is allowed.
        limit_mm: f32,
    },
    /// The line cannot be laid on the skin.
    #[error("The {what} cannot be laid on the skin: {why}.")]
    Line {
        /// Which line.
        what: String,
        /// Why.
        why: LineError,
    },
    /// A line crosses itself.
    #[error("The {what} crosses itself at {} mm; move a point so that it goes round once.", Place::new(at, 1))]
    Crosses {
        /// Which line.
        what: String,
        /// Where.
        at: Point3<f32>,
    },
    /// A closed line has no inside.
    #[error(
        "The {what} does not divide the skin in two near {} mm; check the limb for holes there, or \
         draw the line elsewhere.",
        Place::new(at, 1)
    )]
    NoInside {
        /// Which line.
        what: String,
        /// Where it starts.
        at: Point3<f32>,
    },
    /// Nothing is left.
    #[error("The {what} is empty: {why}.")]
    Empty {
        /// Which region.
        what: String,
        /// What took the last of it.
        why: String,
    },
    /// The zone falls apart.
    #[error("The zone is in {} pieces: {}; join them with a stroke, or make a guard for each.", pieces.len(), list(pieces))]
    Pieces {
        /// Area and place of each, the biggest first.
        pieces: Vec<(f64, Point3<f32>)>,
    },
    /// The zone is nowhere wide enough.
    #[error(
        "The zone is only {width_mm:.1} mm wide at its widest, at {} mm; a shell needs {least_mm:.0} mm.",
        Place::new(at, 1)
    )]
    TooThin {
        /// Widest place.
        width_mm: f32,
        /// Where that is.
        at: Point3<f32>,
        /// What is needed.
        least_mm: f32,
    },
    /// The limb has no skin.
    #[error("The limb has no triangles, so there is nothing to draw a zone on; start again from its scan.")]
    NoSkin,
}

/// The largest pieces with their places, and how many more there are: a sentence, not a table.
fn list(pieces: &[(f64, Point3<f32>)]) -> String {
    const NAMED: usize = 4;
    let mut largest: Vec<&(f64, Point3<f32>)> = pieces.iter().collect();
    largest.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut words: Vec<String> =
        largest.iter().take(NAMED).map(|(area, at)| format!("{area:.1} cm² round {} mm", Place::new(at, 0))).collect();
    if pieces.len() > NAMED {
        words.push(format!("{} smaller ones", pieces.len() - NAMED));
    }
    words.join(", ")
}
