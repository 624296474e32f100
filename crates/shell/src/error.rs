//! Why a shell could not be built.

use mesh::Cancelled;
use nalgebra::Point3;

/// A shell that cannot be built, or was stopped.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ShellError {
    /// A setting asks for something that the zone or another setting does not allow.
    #[error("{setting}: {what} (near x {:.0}, y {:.0}, z {:.0} mm on the limb). {cure}", place.x, place.y, place.z)]
    CannotBuild {
        /// Path of the setting in the design file, such as `shell.vents.size_mm`.
        setting: String,
        /// Where on the limb, limb axes, mm.
        place: Point3<f32>,
        /// What is wrong, as a clause.
        what: String,
        /// What to do, as a sentence.
        cure: String,
    },
    /// Stopped on request.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
