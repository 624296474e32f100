//! Writing meshes: STL, PLY, and files that are either whole or not there.

mod atomic;
mod ply;
mod stl;
mod stoppable;

pub use atomic::{StagedFile, WriteError, save_atomic};
pub use ply::ply;
pub use stl::stl_binary;
pub use stoppable::Stoppable;

use crate::Mesh;
use std::io;

/// Refuses a mesh whose triangles name points that are not there, or too many points for the formats' signed numbers.
fn check_indices(mesh: &Mesh) -> io::Result<()> {
    let invalid = |what: &str| Err(io::Error::new(io::ErrorKind::InvalidInput, what));
    if mesh.points.len() > i32::MAX as usize {
        return invalid("more points than the file can number");
    }
    if mesh.triangles.iter().flatten().any(|v| *v as usize >= mesh.points.len()) {
        return invalid("a triangle names a point that is not there");
    }
    Ok(())
}
