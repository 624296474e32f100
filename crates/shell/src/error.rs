//! Why a shell could not be built.

use mesh::{Cancelled, Place};
use nalgebra::Point3;

/// A shell that cannot be built, or was stopped.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ShellError {
    /// A setting asks for something that the zone or another setting does not allow.
    #[error("{setting}: {what} (near {:#} mm on the limb). {cure}", Place::new(place, 0))]
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
