//! What is written is read back the same, by this crate and by another one.

use mesh::read::{Format, read_file};
use mesh::{Job, Mesh, write};
use nalgebra::Point3;

/// An octahedron at places that have no short decimal, each corner of another colour.
fn body() -> Mesh {
    let mut mesh: Mesh = test_shapes::octahedron(-77.7, 100.0 / 3.0).build();
    mesh.colours = Some((0..6).map(|i| [i * 40, 255 - i * 40, 7]).collect());
    mesh
}

fn corners(mesh: &Mesh) -> Vec<[Point3<f32>; 3]> {
    (0..mesh.triangles.len()).map(|t| mesh.corners(t)).collect()
}

#[test]
fn stl_comes_back_the_same_from_here_and_from_stl_io() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("solid.stl");
    let mesh = body();
    write::save_atomic(&path, |out| write::stl_binary(&mesh, "solid, but not text", out)).unwrap();
    let bytes = std::fs::read(&path).unwrap();
    assert_eq!(bytes.len(), 84 + 50 * 8);
    assert!(!bytes.starts_with(b"solid"));

    let scan = read_file(&path, &Job::silent()).unwrap();
    assert_eq!((scan.format, scan.mesh.points.len()), (Format::StlBinary, 6));
    assert_eq!(corners(&scan.mesh), corners(&mesh));

    let other = stl_io::read_stl(&mut std::io::Cursor::new(bytes)).unwrap();
    other.validate().unwrap();
    for (t, face) in other.faces.iter().enumerate() {
        let found = face.vertices.map(|v| Point3::from(other.vertices[v].0));
        assert_eq!(found, mesh.corners(t));
        assert_eq!(face.normal.0, <[f32; 3]>::from(mesh.triangle_normal(t)));
    }
}

#[test]
fn ply_comes_back_the_same_with_its_colours() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("zone.ply");
    let mut mesh = body();
    write::save_atomic(&path, |out| write::ply(&mesh, &["one\nelement face 9", "two"], out)).unwrap();
    let scan = read_file(&path, &Job::silent()).unwrap();
    assert_eq!((scan.format, &scan.mesh), (Format::PlyLittleEndian, &mesh));
    assert!(scan.warnings.is_empty());

    mesh.colours = None;
    write::save_atomic(&path, |out| write::ply(&mesh, &[], out)).unwrap();
    assert_eq!(read_file(&path, &Job::silent()).unwrap().mesh, mesh);
}

#[test]
fn meshes_that_name_missing_points_are_not_written() {
    let mut mesh = body();
    mesh.triangles.push([0, 1, 6]);
    assert!(write::stl_binary(&mesh, "", &mut Vec::new()).is_err());
    assert!(write::ply(&mesh, &[], &mut Vec::new()).is_err());
    mesh.triangles.pop();
    mesh.colours = Some(vec![[0; 3]; 5]);
    assert!(write::ply(&mesh, &[], &mut Vec::new()).is_err());
}

#[test]
fn a_large_file_read_in_parts_is_the_same_as_its_bytes() {
    // 90 000 × 2 triangles, 9 MB: more than is read in one go. Heights keep all points different.
    let side = 301_u32;
    let point = |i: u32| Point3::new((i % side) as f32, (i / side) as f32, (i * 31 % 97) as f32 * 0.01);
    let square = |i: u32| {
        let a = i / (side - 1) * side + i % (side - 1);
        [[a, a + 1, a + side], [a + 1, a + side + 1, a + side]]
    };
    let mesh =
        Mesh::new((0..side * side).map(point).collect(), (0..(side - 1) * (side - 1)).flat_map(square).collect());
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sheet.stl");
    write::save_atomic(&path, |out| write::stl_binary(&mesh, "", out)).unwrap();
    let bytes = std::fs::read(&path).unwrap();
    let from_bytes = mesh::read::read_bytes(&bytes, "sheet.stl", &|_| None, &Job::silent()).unwrap();
    let from_file = read_file(&path, &Job::silent()).unwrap();
    assert_eq!(from_file, from_bytes);
    assert_eq!(corners(&from_file.mesh), corners(&mesh));
    // As many points as the sheet has, however many threads joined them.
    assert_eq!(from_file.mesh.points.len(), (side * side) as usize);
    let alone = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    assert_eq!(alone.install(|| read_file(&path, &Job::silent()).unwrap()), from_file);
}
