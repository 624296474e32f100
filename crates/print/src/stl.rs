//! Binary STL: 80 bytes of header, a count, 50 bytes a facet; no unit in the file, millimetres by custom.
//!
//! Layout: fabbers.com/tech/STL_Format.

use crate::{Error, part};
use mesh::write::Stoppable;
use mesh::{Job, Mesh};
use std::io::Write;

const HEADER: &str = "Binary STL, millimetres, guard shell";

/// Writes the part, bit for bit as it is; see [`crate::at_origin`].
///
/// # Errors
/// The part is empty or broken, the output cannot be written, or the work was stopped.
pub fn write(part: &Mesh, out: &mut (impl Write + ?Sized), job: &Job) -> Result<(), Error> {
    part::check(part)?;
    mesh::write::stl_binary(part, HEADER, &mut Stoppable::new(out, job)).map_err(|error| match job.check() {
        Err(cancelled) => cancelled.into(),
        Ok(()) => error.into(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::part::{at_origin, samples::torus};

    #[test]
    fn another_reader_finds_the_same_part() {
        let ring = at_origin(&torus(50, 20));
        let mut bytes = Vec::new();
        write(&ring, &mut bytes, &Job::silent()).unwrap();
        assert_eq!(bytes.len(), 84 + 50 * ring.triangles.len());
        let read = stl_io::read_stl(&mut std::io::Cursor::new(&bytes)).unwrap();
        assert_eq!((read.faces.len(), read.vertices.len()), (ring.triangles.len(), ring.points.len()));
        for (face, t) in read.faces.iter().zip(0..) {
            let theirs = face.vertices.map(|v| read.vertices[v].0);
            assert_eq!(theirs, ring.corners(t).map(|p| [p.x, p.y, p.z]));
            let n = ring.triangle_normal(t);
            assert_eq!(face.normal.0, [n.x, n.y, n.z]);
        }
    }
}
