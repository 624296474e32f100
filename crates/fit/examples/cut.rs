//! Cuts a mesh file with a plane and writes the lines as JSON: `cut FILE X Y Z NX NY NZ > lines.json`.

use nalgebra::{Point3, Vector3};
use std::io::Write;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut words = std::env::args().skip(1);
    let file = words.next().ok_or("which file?")?;
    let numbers = words.map(|w| w.parse()).collect::<Result<Vec<f32>, _>>()?;
    let [x, y, z, nx, ny, nz] = numbers[..] else { return Err("a point and a normal, please".into()) };
    let scan = mesh::read::read_file(file.as_ref(), &mesh::Job::silent())?;
    let cut = fit::section(&scan.mesh, &Point3::new(x, y, z), &Vector3::new(nx, ny, nz))?;
    let lines: Vec<_> = cut
        .lines
        .iter()
        .map(|l| serde_json::json!({ "points": l.points, "closed": l.closed, "length_mm": l.length_mm() }))
        .collect();
    serde_json::to_writer(std::io::stdout().lock(), &lines)?;
    std::io::stdout().flush()?;
    Ok(())
}
