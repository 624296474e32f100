//! Binary PLY, with point colours.

use crate::Mesh;
use std::io::{self, Write};

/// Writes a binary little-endian PLY: x y z as float, red green blue as uchar where there are colours, faces as lists
/// of int.
///
/// Each of `comments` becomes a line of the head; line ends inside become blanks.
///
/// # Errors
/// What `out` reports; [`io::ErrorKind::InvalidInput`] for a triangle that names a missing point or for a
/// colour list of the wrong length.
pub fn ply(mesh: &Mesh, comments: &[&str], out: &mut (impl Write + ?Sized)) -> io::Result<()> {
    super::check_indices(mesh)?;
    if mesh.colours.as_ref().is_some_and(|c| c.len() != mesh.points.len()) {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "as many colours as points are needed"));
    }
    writeln!(out, "ply\nformat binary_little_endian 1.0")?;
    for comment in comments {
        writeln!(out, "comment {}", comment.replace(['\n', '\r'], " "))?;
    }
    writeln!(out, "element vertex {}", mesh.points.len())?;
    writeln!(out, "property float x\nproperty float y\nproperty float z")?;
    if mesh.colours.is_some() {
        writeln!(out, "property uchar red\nproperty uchar green\nproperty uchar blue")?;
    }
    writeln!(out, "element face {}\nproperty list uchar int vertex_indices\nend_header", mesh.triangles.len())?;
    for (i, point) in mesh.points.iter().enumerate() {
        for value in &point.coords {
            out.write_all(&value.to_le_bytes())?;
        }
        if let Some(colours) = &mesh.colours {
            out.write_all(&colours[i])?;
        }
    }
    for triangle in &mesh.triangles {
        out.write_all(&[3])?;
        for corner in triangle {
            // check_indices has made sure that they fit.
            out.write_all(&corner.to_le_bytes())?;
        }
    }
    Ok(())
}
