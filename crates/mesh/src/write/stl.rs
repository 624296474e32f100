//! Binary STL.

use crate::Mesh;
use std::io::{self, Write};

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
    let count = u32::try_from(mesh.triangles.len())
        .map_err(|_| io::Error::new(io::ErrorKind::InvalidInput, "more triangles than an STL can count"))?;
    super::check_indices(mesh)?;
    let solid = header.trim_start().get(..5).is_some_and(|w| w.eq_ignore_ascii_case("solid"));
    let header = if solid { format!("binary {header}") } else { header.to_owned() };
    let mut head = [b' '; 80];
    for (place, byte) in head.iter_mut().zip(header.bytes().filter(u8::is_ascii)) {
        *place = byte;
    }
    out.write_all(&head)?;
    out.write_all(&count.to_le_bytes())?;
    for t in 0..mesh.triangles.len() {
        let normal = mesh.triangle_normal(t);
        let corners = mesh.corners(t);
        let numbers = normal.iter().chain(corners.iter().flat_map(|c| c.coords.iter()));
        let mut row = [0_u8; 50];
        for (place, number) in row.as_chunks_mut::<4>().0.iter_mut().zip(numbers) {
            *place = number.to_le_bytes();
        }
        out.write_all(&row)?;
    }
    Ok(())
}
