//! Shapes with closed forms.

use mesh::Mesh;
use nalgebra::Point3;
use std::f32::consts::TAU;

/// A tube around z, open at both ends, looking outward, or inward if `inward`.
pub fn tube(radius: f32, [low, high]: [f32; 2], around: u32, rows: u32, inward: bool) -> Mesh {
    let points = (0..around * rows)
        .map(|i| {
            let (s, c) = ((i % around) as f32 / around as f32 * TAU).sin_cos();
            let share = (i / around) as f32 / (rows - 1) as f32;
            Point3::new(radius * c, radius * s, low + share * (high - low))
        })
        .collect();
    let triangles = (0..around * (rows - 1))
        .flat_map(|i| {
            let row = i / around * around;
            let (a, b) = (i, row + (i - row + 1) % around);
            [[a, b, a + around], [b, b + around, a + around]]
        })
        .map(|[a, b, c]| if inward { [a, c, b] } else { [a, b, c] })
        .collect();
    Mesh::new(points, triangles)
}

/// A torus around z.
pub fn torus(ring: f32, tube: f32, around: u32, across: u32) -> Mesh {
    let points = (0..around * across)
        .map(|i| {
            let (s, c) = ((i / across) as f32 / around as f32 * TAU).sin_cos();
            let (t, r) = ((i % across) as f32 / across as f32 * TAU).sin_cos();
            Point3::new((ring + tube * r) * c, (ring + tube * r) * s, tube * t)
        })
        .collect();
    let at = |i: u32, j: u32| i % around * across + j % across;
    let triangles = (0..around)
        .flat_map(|i| (0..across).map(move |j| (i, j)))
        .flat_map(|(i, j)| {
            let [a, b, c, d] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
            [[a, b, c], [a, c, d]]
        })
        .collect();
    Mesh::new(points, triangles)
}

/// Both in one mesh.
pub fn together(mut a: Mesh, b: &Mesh) -> Mesh {
    let shift = a.points.len() as u32;
    a.points.extend(&b.points);
    a.triangles.extend(b.triangles.iter().map(|t| t.map(|v| v + shift)));
    a
}
