//! How long the print files of a shell of 200 000 triangles take: `cargo bench -p print --bench pack`.
#![allow(clippy::print_stdout, clippy::unwrap_used)]

use std::time::Instant;

use mesh::{Job, Mesh};
use nalgebra::Point3;
use print::threemf::Metadata;

/// A closed ring of `around` by `across` quads.
fn ring(around: u32, across: u32) -> Mesh {
    let turn = |k: u32, n: u32| k as f32 / n as f32 * std::f32::consts::TAU;
    let points = (0..around * across)
        .map(|k| {
            let (u, v) = (turn(k / across, around), turn(k % across, across));
            let reach = 40.0 + 9.0 * v.cos();
            Point3::new(reach * u.cos(), reach * u.sin(), 9.0 * v.sin())
        })
        .collect();
    let at = |i: u32, j: u32| (i % around) * across + j % across;
    let triangles = (0..around * across)
        .map(|k| (k / across, k % across))
        .flat_map(|(i, j)| {
            let [a, b, c, d] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
            [[a, b, c], [a, c, d]]
        })
        .collect();
    Mesh::new(points, triangles)
}

fn best_of_5(what: &str, mut work: impl FnMut()) {
    let mut best = f64::INFINITY;
    for _ in 0..5 {
        let start = Instant::now();
        work();
        best = best.min(start.elapsed().as_secs_f64());
    }
    println!("{what}: {best:.3} s");
}

fn main() {
    let ring = ring(500, 200);
    best_of_5("STL of 200 000 triangles", || print::stl::write(&ring, &mut std::io::sink()).unwrap());
    best_of_5("3MF of 200 000 triangles", || {
        print::threemf::write(&ring, &Metadata::default(), &mut std::io::sink(), &Job::silent()).unwrap();
    });
}
