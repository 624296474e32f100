//! Everything that can go wrong when fit is measured.

/// What went wrong, as a sentence for the user.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// There is no skin to measure to.
    #[error("The limb has no triangles, so nothing can be measured to it; open its scan again.")]
    NoSkin,
    /// A triangle names a point that is not there.
    #[error(
        "Triangle {triangle} names point {point}, but there are only {points}; build the shell, or read the scan, again."
    )]
    NoSuchPoint {
        /// Index of the triangle.
        triangle: usize,
        /// What it names.
        point: u32,
        /// How many points there are.
        points: usize,
    },
    /// A coordinate is not a number.
    #[error("Point {point} has a coordinate that is not a number; build the shell, or read the scan, again.")]
    NotFinite {
        /// Index of the point.
        point: usize,
    },
    /// The cutting plane has no direction.
    #[error("The cutting plane has no direction; give its normal a length, such as 0, 0, 1 for a cut across the limb.")]
    NoPlane,
    /// The work was stopped.
    #[error(transparent)]
    Cancelled(#[from] mesh::Cancelled),
}

/// Refuses a mesh whose triangles or points cannot be worked with.
pub(crate) fn check(mesh: &mesh::Mesh) -> Result<(), FitError> {
    let points = mesh.points.len();
    for (triangle, corners) in mesh.triangles.iter().enumerate() {
        if let Some(point) = corners.iter().find(|v| **v as usize >= points) {
            return Err(FitError::NoSuchPoint { triangle, point: *point, points });
        }
    }
    match mesh.points.iter().position(|p| p.iter().any(|x| !x.is_finite())) {
        Some(point) => Err(FitError::NotFinite { point }),
        None => Ok(()),
    }
}
