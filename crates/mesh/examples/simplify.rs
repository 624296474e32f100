//! Simplifies a closed mesh and writes it as binary STL: `simplify FROM TO TOLERANCE_MM`.

use mesh::{Job, read, simplify, write};
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<PathBuf> = std::env::args_os().skip(1).map(Into::into).collect();
    let [from, to, tolerance_mm] = words.as_slice() else {
        return Err("three words are needed: simplify FROM TO TOLERANCE_MM".into());
    };
    let tolerance_mm: f32 = tolerance_mm.to_string_lossy().parse()?;
    let mesh = read::read_file(from, &Job::silent())?.mesh;
    let locked = vec![false; mesh.points.len()];
    let simpler = simplify::simplify(&mesh, tolerance_mm, &locked, &Job::silent())?.mesh;
    write::save_atomic(to, |out| write::stl_binary(&simpler, "binary STL", out))?;
    Ok(())
}
