//! Draws two meshes as limb and shell, to judge the pictures by eye:
//! `cargo run --release -p print --example draw_guard -- LIMB SHELL OUT.png`

use print::picture::{Sheet, contact_sheet, png};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let paths: Vec<String> = std::env::args().skip(1).collect();
    let [limb, shell, out] = paths.as_slice() else { return Err("give LIMB SHELL OUT.png".into()) };
    let job = mesh::Job::silent();
    let open = |path: &str| mesh::read::read_file(path.as_ref(), &job).map(|scan| scan.mesh);
    let (limb, shell) = (open(limb)?, open(shell)?);
    let start = std::time::Instant::now();
    let sheet = Sheet { title: "Shell for a left forearm, number 14".into(), ..Sheet::default() };
    let picture = contact_sheet(&limb, &shell, &sheet, &job)?;
    let bytes = png(&picture)?;
    let drawn = limb.triangles.len() + shell.triangles.len();
    std::io::Write::write_all(
        &mut std::io::stdout(),
        format!("{drawn} triangles in {:.2?}\n", start.elapsed()).as_bytes(),
    )?;
    std::fs::write(out, bytes)?;
    Ok(())
}
