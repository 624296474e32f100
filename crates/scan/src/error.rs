//! What can go wrong between a scan file and a limb.

use mesh::Cancelled;

use crate::report::said_length;

/// Why a scan could not be made into a limb.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ScanError {
    /// The file holds no triangle with area.
    #[error(
        "The scan holds no surface: none of its {triangles} triangles has an area; export the scan again as a mesh, not as points."
    )]
    NoSurface {
        /// Triangles in the file.
        triangles: usize,
    },
    /// Cropping took everything.
    #[error("Crop number {number} leaves nothing of the scan: it keeps the empty side; reverse it or move it.")]
    NothingLeft {
        /// Which crop, from 1.
        number: usize,
    },
    /// A setting is out of its range.
    #[error("Cleaning setting '{field}' is {value}, but must be {allowed}.")]
    Setting {
        /// Name of the field.
        field: &'static str,
        /// What was given.
        value: String,
        /// What is allowed.
        allowed: &'static str,
    },
    /// The scan is far too small or far too large for a limb.
    #[error(
        "Read in {unit}, the scan measures {}, which no limb does; set the right unit, or export the scan again.",
        said_length(*.longest_mm)
    )]
    OutOfProportion {
        /// Longest side of the scan, mm.
        longest_mm: f64,
        /// Unit used.
        unit: &'static str,
    },
    /// The surface would not fit into memory.
    #[error(
        "Splitting edges to {longest_mm:.1} mm would make about {triangles} triangles of this scan ({area_cm2:.0} cm²); check the unit ({unit}), or allow longer edges."
    )]
    TooFine {
        /// Edge length asked for.
        longest_mm: f32,
        /// Triangles to be expected.
        triangles: u64,
        /// Area of the scan.
        area_cm2: f64,
        /// Unit used.
        unit: &'static str,
    },
    /// Stopped on request.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
