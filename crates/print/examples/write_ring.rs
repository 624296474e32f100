//! Writes a ring as STL and 3MF into the folder given, to check the writers with other programs:
//! `cargo run --release -p print --example write_ring -- FOLDER && python tests/reference/read_back.py FOLDER/shell.stl FOLDER/shell.3mf`

use std::path::PathBuf;

fn main() -> Result<(), print::Error> {
    let folder = PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| ".".into()));
    let ring = print::at_origin(&test_shapes::torus(40.0, 9.0, 500, 200).build());
    print::save(&folder.join(print::STL_FILE), |out| print::stl::write(&ring, out, &mesh::Job::silent()))?;
    let about = print::threemf::Metadata { title: "Ring".into(), ..Default::default() };
    print::save(&folder.join(print::THREEMF_FILE), |out| {
        print::threemf::write(&ring, &about, out, &mesh::Job::silent())
    })
}
