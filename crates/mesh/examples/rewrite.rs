//! Reads a scan and writes it as PLY or binary STL, by the extension of the second name: `rewrite FROM TO`.

use mesh::{Job, read, write};
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let names: Vec<PathBuf> = std::env::args_os().skip(1).map(Into::into).collect();
    let [from, to] = names.as_slice() else { return Err("two file names are needed: rewrite FROM TO".into()) };
    let mesh = read::read_file(from, &Job::silent())?.mesh;
    write::save_atomic(to, |out| {
        if to.extension().is_some_and(|e| e == "ply") {
            write::ply(&mesh, &[], out)
        } else {
            write::stl_binary(&mesh, "binary STL", out)
        }
    })?;
    Ok(())
}
