//! Fills all holes of a manifold mesh and writes it as PLY, the original points first: `fill_holes FROM TO`.

use mesh::{Adjacency, Job, read, repair, write};
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<PathBuf> = std::env::args_os().skip(1).map(Into::into).collect();
    let [from, to] = words.as_slice() else { return Err("two words are needed: fill_holes FROM TO".into()) };
    let mut mesh = read::read_file(from, &Job::silent())?.mesh;
    let adjacency = Adjacency::new(&mesh);
    let loops = adjacency.boundary_loops(&mesh);
    repair::fill_holes(&mut mesh, &adjacency, &loops, &Job::silent())?;
    write::save_atomic(to, |out| write::ply(&mesh, &[], out))?;
    Ok(())
}
