//! Binary STL.

use crate::Mesh;
use std::io::{self, Write};
use stl_io::{Normal, Triangle, Vertex};

/// Bytes before the count.
const HEAD: usize = 80;

/// Writes a binary STL: the header's first 80 bytes, the count, then normal, corners and a zero attribute a triangle.
///
/// Lengths go out as they are (STL has no unit; printing programs take them for millimetres). Normals are those of
/// the corners, zero for a triangle without area. A header that begins with "solid" would make some readers take the
/// file for text, so it gets a "binary " in front.
///
/// # Errors
/// What `out` reports; [`io::ErrorKind::InvalidInput`] for a triangle that names a missing point or for more
/// triangles than STL can count.
pub fn stl_binary(mesh: &Mesh, header: &str, out: &mut (impl Write + ?Sized)) -> io::Result<()> {
    if u32::try_from(mesh.triangles.len()).is_err() {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "more triangles than an STL can count"));
    }
    super::check_indices(mesh)?;
    let solid = header.trim_start().get(..5).is_some_and(|w| w.eq_ignore_ascii_case("solid"));
    let header = if solid { format!("binary {header}") } else { header.to_owned() };
    let mut head = [b' '; HEAD];
    for (place, byte) in head.iter_mut().zip(header.bytes().filter(u8::is_ascii)) {
        *place = byte;
    }
    let facets = (0..mesh.triangles.len()).map(|t| Triangle {
        normal: Normal::new(mesh.triangle_normal(t).into()),
        vertices: mesh.corners(t).map(|p| Vertex::new(p.into())),
    });
    stl_io::write_stl(&mut WithHead { head, written: 0, out }, facets)
}

/// Replaces the first bytes, which `stl_io` leaves empty, by `head`.
struct WithHead<'a, W: ?Sized> {
    head: [u8; HEAD],
    written: usize,
    out: &'a mut W,
}

impl<W: Write + ?Sized> Write for WithHead<'_, W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let left = &self.head[self.written..];
        if left.is_empty() {
            return self.out.write(bytes);
        }
        let count = self.out.write(&left[..bytes.len().min(left.len())])?;
        self.written += count;
        Ok(count)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}
