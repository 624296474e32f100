//! Time to read a binary STL of about a million triangles with corners joined, beside the `stl_io` crate.
//!
//! `cargo bench -p mesh --bench read_stl` makes a bumpy tube in a temporary folder; `-- FILE` reads that file
//! instead. `tests/reference/read_speed.py` times Python readers on the same file.

use mesh::{Job, Mesh};
use nalgebra::Point3;
use std::hint::black_box;
use std::io::BufReader;
use std::path::Path;
use std::time::{Duration, Instant};

/// A tube with bumps, closed all round and open at both ends: 2 × 1000 × 500 triangles.
fn bumpy_tube() -> Mesh {
    let (round, rows) = (1000_u32, 501_u32);
    let point = |i: u32| {
        let (s, c) = ((i % round) as f32 / round as f32 * std::f32::consts::TAU).sin_cos();
        let z = (i / round) as f32 * 0.5;
        let radius = 40.0 + 0.8 * (0.31 * z).sin() + 0.5 * (9.0 * s).cos();
        Point3::new(radius * c, radius * s, z)
    };
    let square = |i: u32| {
        let (row, at) = (i / round * round, i % round);
        let (a, b) = (row + at, row + (at + 1) % round);
        [[a, b, a + round], [b, b + round, a + round]]
    };
    Mesh::new((0..round * rows).map(point).collect(), (0..round * (rows - 1)).flat_map(square).collect())
}

/// Shortest and middle of some runs.
fn time<T>(mut work: impl FnMut() -> T) -> (Duration, Duration) {
    let mut runs: Vec<Duration> = (0..7)
        .map(|_| {
            let start = Instant::now();
            black_box(work());
            start.elapsed()
        })
        .collect();
    runs.sort();
    (runs[0], runs[runs.len() / 2])
}

fn open(path: &Path) -> BufReader<std::fs::File> {
    BufReader::new(std::fs::File::open(path).expect("the file was just there"))
}

#[allow(clippy::print_stdout)]
fn main() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let given = std::env::args().skip(1).find(|a| !a.starts_with("--"));
    let path = given.map_or_else(|| folder.path().join("tube.stl"), Into::into);
    if !path.exists() {
        mesh::write::save_atomic(&path, |out| mesh::write::stl_binary(&bumpy_tube(), "bumpy tube", out))
            .expect("room for 50 MB");
    }
    let ours = mesh::read::read_file(&path, &Job::silent()).expect("an STL");
    println!("{}: {} triangles, {} points", path.display(), ours.mesh.triangles.len(), ours.mesh.points.len());
    let theirs = stl_io::read_stl(&mut open(&path)).expect("an STL");
    assert_eq!((theirs.faces.len(), theirs.vertices.len()), (ours.mesh.triangles.len(), ours.mesh.points.len()));
    drop((ours, theirs));

    let show = |name: &str, (best, middle): (Duration, Duration)| {
        println!("{name:44} best {:7.1} ms, middle {:7.1} ms", best.as_secs_f64() * 1e3, middle.as_secs_f64() * 1e3);
    };
    show("bytes only (std::fs::read)", time(|| std::fs::read(&path)));
    show("mesh::read::read_file, joined", time(|| mesh::read::read_file(&path, &Job::silent())));
    show("stl_io::read_stl, joined", time(|| stl_io::read_stl(&mut open(&path))));
    show(
        "stl_io::create_stl_reader, not joined",
        time(|| {
            stl_io::create_stl_reader(&mut open(&path)).map(|reader| reader.filter_map(Result::ok).collect::<Vec<_>>())
        }),
    );
}
