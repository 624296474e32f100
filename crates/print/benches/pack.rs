//! How long the print files of a shell of 200 000 triangles take: `cargo bench -p print --bench pack`.
#![allow(clippy::print_stdout, clippy::unwrap_used)]

use std::time::Instant;

use mesh::{Job, Mesh};
use print::threemf::Metadata;

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
    let ring: Mesh = test_shapes::torus(40.0, 9.0, 500, 200).build();
    best_of_5("STL of 200 000 triangles", || print::stl::write(&ring, &mut std::io::sink(), &Job::silent()).unwrap());
    best_of_5("3MF of 200 000 triangles", || {
        print::threemf::write(&ring, &Metadata::default(), &mut std::io::sink(), &Job::silent()).unwrap();
    });
}
