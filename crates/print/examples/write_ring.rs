//! Writes a ring as STL and 3MF into the folder given, to check the writers with other programs:
//! `cargo run --release -p print --example write_ring -- FOLDER && python tests/reference/read_back.py FOLDER/shell.stl FOLDER/shell.3mf`

use mesh::Mesh;
use nalgebra::Point3;
use std::f32::consts::TAU;
use std::path::PathBuf;

fn main() -> Result<(), print::Error> {
    let folder = PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| ".".into()));
    let (around, across) = (500_u32, 200_u32);
    let points = (0..around * across)
        .map(|k| {
            let (u, v) = ((k / across) as f32 / around as f32 * TAU, (k % across) as f32 / across as f32 * TAU);
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
    let ring = print::at_origin(&Mesh::new(points, triangles));
    print::save(&folder.join(print::STL_FILE), |out| print::stl::write(&ring, out))?;
    let about = print::threemf::Metadata { title: "Ring".into(), ..Default::default() };
    print::save(&folder.join(print::THREEMF_FILE), |out| {
        print::threemf::write(&ring, &about, out, &mesh::Job::silent())
    })
}
