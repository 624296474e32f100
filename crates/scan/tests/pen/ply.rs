//! Just enough PLY for the given scans: binary, little endian, float xyz and uchar rgba, uchar-int faces.

use std::path::Path;

use mesh::Mesh;
use nalgebra::Point3;

pub fn read(path: &Path) -> Mesh {
    let bytes = std::fs::read(path).unwrap();
    let end = bytes.windows(11).position(|w| w == b"end_header\n").unwrap() + 11;
    let header = std::str::from_utf8(&bytes[..end]).unwrap();
    let count =
        |what: &str| -> usize { header.lines().find_map(|l| l.strip_prefix(what)).unwrap().trim().parse().unwrap() };
    let (vertices, faces) = (count("element vertex"), count("element face"));
    let f = |at: usize| f32::from_le_bytes(bytes[at..at + 4].try_into().unwrap());
    let mut mesh = Mesh::default();
    let mut colours = Vec::new();
    for v in 0..vertices {
        let at = end + v * 16;
        mesh.points.push(Point3::new(f(at), f(at + 4), f(at + 8)));
        colours.push([bytes[at + 12], bytes[at + 13], bytes[at + 14]]);
    }
    let at = end + vertices * 16;
    for t in 0..faces {
        let at = at + t * 13;
        assert_eq!(bytes[at], 3);
        mesh.triangles.push([1, 5, 9].map(|k| u32::from_le_bytes(bytes[at + k..at + k + 4].try_into().unwrap())));
    }
    mesh.colours = Some(colours);
    mesh
}
