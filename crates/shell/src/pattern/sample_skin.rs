//! Pieces of skin with a closed form, for tests.

use mesh::{Mesh, Surface};
use nalgebra::Point3;
use zone::{Region, Zone};

/// A sheet bent by `place(u, v)`, of `width` by `height`, with sides of about `side` mm, facing along place_u × place_v.
fn sheet(width: f32, height: f32, side: f32, close: bool, place: impl Fn(f32, f32) -> Point3<f32>) -> Surface {
    let (columns, rows) = ((width / side).ceil() as u32, (height / side).ceil() as u32);
    let across = if close { columns } else { columns + 1 };
    let mut points = Vec::new();
    for j in 0..=rows {
        for i in 0..across {
            let u = (i as f32 / columns as f32 - 0.5) * width;
            let v = (j as f32 / rows as f32 - 0.5) * height;
            points.push(place(u, v));
        }
    }
    let at = |i: u32, j: u32| j * across + i % across;
    let mut triangles = Vec::new();
    for j in 0..rows {
        for i in 0..columns {
            let corners = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
            let [a, b, c, d] = corners;
            if (i + j) % 2 == 0 {
                triangles.extend([[a, b, c], [a, c, d]]);
            } else {
                triangles.extend([[a, b, d], [b, c, d]]);
            }
        }
    }
    Surface::new(Mesh::new(points, triangles))
}

/// A flat sheet facing −y, with its height along z: the limb directions are x and z on it.
pub fn flat(width: f32, height: f32, side: f32) -> Surface {
    sheet(width, height, side, false, |u, v| Point3::new(u, 0.0, v))
}

/// A closed tube round z.
pub fn cylinder(radius: f32, height: f32, side: f32) -> Surface {
    let width = std::f32::consts::TAU * radius;
    sheet(width, height, side, true, |u, v| {
        let (s, c) = (u / radius).sin_cos();
        Point3::new(radius * c, radius * s, v)
    })
}

/// A ball without its poles (beyond 80 degrees).
pub fn sphere(radius: f32, side: f32) -> Surface {
    let width = std::f32::consts::TAU * radius;
    sheet(width, radius * 160.0_f32.to_radians(), side, true, |u, v| {
        let ((s, c), (up, out)) = ((u / radius).sin_cos(), (v / radius).sin_cos());
        Point3::new(radius * out * c, radius * out * s, radius * up)
    })
}

/// The zone in which `inside(point)`, a distance to its edge, is positive.
pub fn zone(skin: &Surface, inside: impl Fn(&Point3<f32>) -> f32) -> Zone {
    let distance_mm = skin.mesh().points.iter().map(inside).collect();
    Zone { covered: Region { distance_mm, edges: Vec::new() }, ..Zone::default() }
}

/// Distance to the edge of a box of half sides `half` round the origin, positive inside.
pub fn inside_box(half: [f32; 2], p: [f32; 2]) -> f32 {
    let (x, y) = (p[0].abs() - half[0], p[1].abs() - half[1]);
    -(x.max(0.0).hypot(y.max(0.0)) + x.max(y).min(0.0))
}
