//! A shape as the bytes of each format that is read.

use std::fmt::Write as _;
use std::io::Cursor;

use crate::polygons::{Polygons, colour_at};

/// Width and height of the picture of an OBJ.
const PICTURE: u32 = 160;

/// Names and bytes; the file that is opened comes first.
pub type Files = Vec<(String, Vec<u8>)>;

pub fn stl_binary(shape: &Polygons) -> Files {
    let triangles: Vec<[[f64; 3]; 3]> = shape.faces.iter().flat_map(|face| fan(&shape.corners(face))).collect();
    let mut out = vec![b' '; 80];
    out.extend((triangles.len() as u32).to_le_bytes());
    for triangle in triangles {
        out.extend([0; 12]);
        out.extend(triangle.iter().flatten().flat_map(|x| (*x as f32).to_le_bytes()));
        out.extend([0, 0]);
    }
    vec![("scan.stl".into(), out)]
}

fn fan(corners: &[[f64; 3]]) -> Vec<[[f64; 3]; 3]> {
    let Some((first, others)) = corners.split_first() else { return Vec::new() };
    others.windows(2).map(|pair| [*first, pair[0], pair[1]]).collect()
}

/// Writes polygons as they are, with more than three corners too.
pub fn stl_text(shape: &Polygons) -> Files {
    let mut out = "solid scan\n".to_owned();
    for face in &shape.faces {
        out += "facet normal 0 0 0\nouter loop\n";
        for [x, y, z] in shape.corners(face) {
            let _ = writeln!(out, "vertex {} {} {}", x as f32, y as f32, z as f32);
        }
        out += "endloop\nendfacet\n";
    }
    vec![("scan.stl".into(), (out + "endsolid scan\n").into_bytes())]
}

/// With its material file and picture.
pub fn obj(shape: &Polygons) -> Files {
    let mut out = "mtllib scan.mtl\n".to_owned();
    for [x, y, z] in &shape.points {
        let _ = writeln!(out, "v {} {} {}", *x as f32, *y as f32, *z as f32);
    }
    for [u, v] in &shape.picture {
        let _ = writeln!(out, "vt {u:.4} {v:.4}");
    }
    out += "usemtl skin\n";
    for face in &shape.faces {
        let corners: Vec<String> = face.iter().map(|v| format!("{0}/{0}", v.saturating_add(1))).collect();
        let _ = writeln!(out, "f {}", corners.join(" "));
    }
    let material = "newmtl skin\nKd 1 1 1\nillum 1\nmap_Kd scan.png\n";
    vec![("scan.obj".into(), out.into_bytes()), ("scan.mtl".into(), material.into()), ("scan.png".into(), picture())]
}

fn picture() -> Vec<u8> {
    let side = f64::from(PICTURE);
    let colour = |x, y| colour_at([(f64::from(x) + 0.5) / side, 1.0 - (f64::from(y) + 0.5) / side]);
    let picture = image::RgbImage::from_fn(PICTURE, PICTURE, |x, y| image::Rgb(colour(x, y)));
    let mut png = Cursor::new(Vec::new());
    // Writing to memory does not fail.
    let _ = picture.write_to(&mut png, image::ImageFormat::Png);
    png.into_inner()
}

/// The order of bytes in a PLY.
#[derive(Debug, Clone, Copy)]
pub enum Order {
    Text,
    Little,
    Big,
}

pub fn ply(shape: &Polygons, order: Order) -> Files {
    let format = match order {
        Order::Text => "ascii",
        Order::Little => "binary_little_endian",
        Order::Big => "binary_big_endian",
    };
    let mut out = format!(
        "ply\nformat {format} 1.0\nelement vertex {}\nproperty float x\nproperty float y\nproperty float z\n\
         property uchar red\nproperty uchar green\nproperty uchar blue\nelement face {}\n\
         property list uchar int vertex_indices\nend_header\n",
        shape.points.len(),
        shape.faces.len()
    )
    .into_bytes();
    let float = |x: f64| if matches!(order, Order::Big) { (x as f32).to_be_bytes() } else { (x as f32).to_le_bytes() };
    let int = |v: i64| if matches!(order, Order::Big) { (v as i32).to_be_bytes() } else { (v as i32).to_le_bytes() };
    for ([x, y, z], [r, g, b]) in shape.points.iter().zip(&shape.colours) {
        if matches!(order, Order::Text) {
            out.extend(format!("{} {} {} {r} {g} {b}\n", *x as f32, *y as f32, *z as f32).bytes());
        } else {
            out.extend([x, y, z].into_iter().flat_map(|c| float(*c)));
            out.extend([r, g, b]);
        }
    }
    for face in &shape.faces {
        if matches!(order, Order::Text) {
            let corners: Vec<String> = face.iter().map(i64::to_string).collect();
            out.extend(format!("{} {}\n", face.len(), corners.join(" ")).bytes());
        } else {
            out.push(face.len() as u8);
            out.extend(face.iter().flat_map(|v| int(*v)));
        }
    }
    vec![("scan.ply".into(), out)]
}
