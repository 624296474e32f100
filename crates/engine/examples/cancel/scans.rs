//! The scans that the steps work on.

use mesh::Mesh;
use nalgebra::Point3;
use test_shapes::random::{gauss, seeded};

use crate::steps::Result;

/// Radius of the ring that is drawn on the skin, mm.
pub const RING_MM: f32 = 40.0;

/// A clean limb with skin colour, and a ring of ink on its front.
pub fn limb(rows: u32) -> Mesh {
    let mut mesh: Mesh = test_shapes::limb(rows).build();
    let colour = |p: &Point3<f32>| {
        let off = (p.y.hypot(p.z - 175.0) - RING_MM).abs();
        if p.x > 0.0 && off < 1.2 { [36, 34, 60] } else { [206, 160, 136] }
    };
    mesh.colours = Some(mesh.points.iter().map(colour).collect());
    mesh
}

/// The same limb as from a bad scanner: rough, with holes and loose bits, standing on a table.
pub fn rough_limb(rows: u32) -> Mesh {
    let mut mesh: Mesh = test_shapes::limb(rows).build();
    let mut random = seeded(5);
    for p in &mut mesh.points {
        let r = p.x.hypot(p.y).max(1.0);
        let off = 0.15 * gauss(&mut random) as f32 / r;
        (p.x, p.y) = (p.x * (1.0 + off), p.y * (1.0 + off));
    }
    let hole = |p: Point3<f32>| p.x < 0.0 && p.y.hypot((p.z - 30.0) % 60.0 - 30.0) < 9.0;
    let Mesh { points, triangles, .. } = &mut mesh;
    triangles.retain(|corners| !hole(points[corners[0] as usize]));
    let mut add = |shape: test_shapes::Shape, at: [f32; 3]| {
        let first = points.len() as u32;
        points.extend(shape.points.iter().map(|p| Point3::new(p[0] + at[0], p[1] + at[1], p[2] + at[2])));
        triangles.extend(shape.triangles.iter().map(|t| t.map(|v| v + first)));
    };
    let table = rows.min(250);
    add(
        test_shapes::height_field(table, table, 400.0 / f64::from(table), test_shapes::Diagonals::Alike, |_, _| 0.0),
        [-200.0, -200.0, -0.5],
    );
    for i in 0..400_u16 {
        let (s, c) = (f32::from(i) * 0.7).sin_cos();
        add(test_shapes::octahedron(-0.5, 0.5), [100.0 * c, 100.0 * s, 20.0 + 0.7 * f32::from(i)]);
    }
    mesh
}

/// Name, ending and bytes in each format.
pub fn files(mesh: &Mesh) -> Result<Vec<(&'static str, &'static str, Vec<u8>)>> {
    use std::fmt::Write as _;
    let mut ply = Vec::new();
    mesh::write::ply(mesh, &[], &mut ply)?;
    let mut stl = Vec::new();
    mesh::write::stl_binary(mesh, "limb", &mut stl)?;
    let (mut obj, mut text) = (String::new(), "solid limb\n".to_owned());
    for p in &mesh.points {
        writeln!(obj, "v {} {} {}", p.x, p.y, p.z)?;
    }
    for t in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.triangles[t].map(|v| v + 1);
        writeln!(obj, "f {a} {b} {c}")?;
        text += "facet normal 0 0 0\nouter loop\n";
        for p in mesh.corners(t) {
            writeln!(text, "vertex {} {} {}", p.x, p.y, p.z)?;
        }
        text += "endloop\nendfacet\n";
    }
    let mut words = format!(
        "ply\nformat ascii 1.0\nelement vertex {}\nproperty float x\nproperty float y\nproperty float z\n\
         element face {}\nproperty list uchar int vertex_indices\nend_header\n",
        mesh.points.len(),
        mesh.triangles.len()
    );
    for p in &mesh.points {
        writeln!(words, "{} {} {}", p.x, p.y, p.z)?;
    }
    for [a, b, c] in &mesh.triangles {
        writeln!(words, "3 {a} {b} {c}")?;
    }
    Ok(vec![
        ("read a binary PLY", "ply", ply),
        ("read a text PLY", "ply", words.into_bytes()),
        ("read a binary STL", "stl", stl),
        ("read a text STL", "stl", (text + "endsolid\n").into_bytes()),
        ("read an OBJ", "obj", obj.into_bytes()),
    ])
}
