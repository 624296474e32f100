//! Times reading a million triangles with corners joined from each format, beside the crates `stl_io`, `tobj` and
//! `ply-rs-bw`, whose counts of points and triangles must agree.
//!
//! `cargo bench -p mesh --bench read_files` makes a bumpy tube in a temporary folder; `-- FILE` reads that STL file
//! instead. `tests/reference/read_speed.py` times Python readers on the same file.

use mesh::{Job, Mesh};
use std::hint::black_box;
use std::io::{BufReader, Write};
use std::path::Path;
use std::time::{Duration, Instant};

/// A tube with bumps, closed all round and open at both ends: 2 × 1000 × 500 triangles.
fn bumpy_tube() -> Mesh {
    let bumpy = |[x, y, z]: [f32; 3]| {
        let radius = 40.0 + 0.8 * (0.31 * z).sin() + 0.5 * (9.0 * y).cos();
        [radius * x, radius * y, z]
    };
    test_shapes::tube(1.0, [0.0, 250.0], 1000, 501).mapped(bumpy).build()
}

/// Shortest and median time of seven runs.
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

fn write_text(path: &Path, mesh: &Mesh, obj: bool) {
    let out = |file: &mut dyn Write| {
        let mut file = std::io::BufWriter::new(file);
        if obj {
            for p in &mesh.points {
                writeln!(file, "v {} {} {}", p.x, p.y, p.z)?;
            }
            for [a, b, c] in &mesh.triangles {
                writeln!(file, "f {} {} {}", a + 1, b + 1, c + 1)?;
            }
        } else {
            writeln!(file, "solid tube")?;
            for t in 0..mesh.triangles.len() {
                writeln!(file, " facet normal 0 0 0\n  outer loop")?;
                for p in mesh.corners(t) {
                    writeln!(file, "   vertex {} {} {}", p.x, p.y, p.z)?;
                }
                writeln!(file, "  endloop\n endfacet")?;
            }
            writeln!(file, "endsolid tube")?;
        }
        file.flush()
    };
    mesh::write::save_atomic(path, out).expect("room for 250 MB");
}

/// Counts of points and triangles of a PLY by the reference crate.
fn reference_ply(path: &Path) -> (usize, usize) {
    let parser = ply_rs_bw::parser::Parser::<ply_rs_bw::ply::DefaultElement>::new();
    let ply = parser.read_ply(&mut open(path)).expect("a PLY");
    (ply.payload["vertex"].len(), ply.payload["face"].len())
}

fn reference_obj(path: &Path) -> (usize, usize) {
    let (models, _) = tobj::load_obj(path, &tobj::LoadOptions::default()).expect("an OBJ");
    let mesh = &models[0].mesh;
    (mesh.positions.len() / 3, mesh.indices.len() / 3)
}

fn counted(path: &Path) -> (usize, usize) {
    let read = mesh::read::read_file(path, &Job::silent()).expect("a mesh").mesh;
    (read.points.len(), read.triangles.len())
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

    let tube = bumpy_tube();
    let text = folder.path().join("tube-text.stl");
    write_text(&text, &tube, false);
    show("text STL: mesh::read::read_file, joined", time(|| counted(&text)));
    show("text STL: stl_io::read_stl, joined", time(|| stl_io::read_stl(&mut open(&text))));
    let obj = folder.path().join("tube.obj");
    write_text(&obj, &tube, true);
    assert_eq!(counted(&obj), reference_obj(&obj));
    show("OBJ: mesh::read::read_file", time(|| counted(&obj)));
    show("OBJ: tobj::load_obj", time(|| reference_obj(&obj)));
    let ply = folder.path().join("tube.ply");
    mesh::write::save_atomic(&ply, |out| mesh::write::ply(&tube, &[], out)).expect("room for 20 MB");
    assert_eq!(counted(&ply), reference_ply(&ply));
    show("PLY: mesh::read::read_file", time(|| counted(&ply)));
    show("PLY: ply_rs_bw::Parser::read_ply", time(|| reference_ply(&ply)));
}
