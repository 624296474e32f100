//! An invented limb with calf, shin and ankle bumps, open at both ends.

use mesh::Mesh;
use nalgebra::Point3;

/// `rows` squares along by twice as many round, each cut in two: 500 rows are a million triangles.
pub fn limb(rows: u32) -> Mesh {
    let round = 2 * rows;
    let point = |i: u32| {
        let (s, c) = ((i % round) as f32 / round as f32 * std::f32::consts::TAU).sin_cos();
        let z = (i / round) as f32 * 350.0 / rows as f32;
        let radius =
            40.0 + 14.0 * (z / 110.0).sin() + 5.0 * c * (z / 60.0).cos() + 0.3 * (0.9 * z).sin() * (9.0 * s).cos();
        Point3::new(radius * c, 0.85 * radius * s, z)
    };
    let square = |i: u32| {
        let (row, at) = (i / round * round, i % round);
        let (a, b) = (row + at, row + (at + 1) % round);
        [[a, b, a + round], [b, b + round, a + round]]
    };
    Mesh::new((0..round * (rows + 1)).map(point).collect(), (0..round * rows).flat_map(square).collect())
}
