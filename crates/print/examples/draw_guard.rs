//! Draws two meshes as limb and shell, to judge the pictures by eye:
//! `cargo run --release -p print --example draw_guard -- LIMB SHELL OUT.png OUT.pdf`

use print::picture::{Sheet, contact_sheet, png};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let paths: Vec<String> = std::env::args().skip(1).collect();
    let [limb, shell, out, page] = paths.as_slice() else { return Err("give LIMB SHELL OUT.png OUT.pdf".into()) };
    let job = mesh::Job::silent();
    let open = |path: &str| mesh::read::read_file(path.as_ref(), &job).map(|scan| scan.mesh);
    let (limb, shell) = (open(limb)?, open(shell)?);
    let start = std::time::Instant::now();
    let sheet = Sheet { title: "Guard for the left forearm, number 14".into(), ..Sheet::default() };
    let picture = contact_sheet(&limb, &shell, &sheet, &job)?;
    let bytes = png(picture, &job)?;
    let drawn = limb.triangles.len() + shell.triangles.len();
    std::io::Write::write_all(
        &mut std::io::stdout(),
        format!("{drawn} triangles in {:.2?}\n", start.elapsed()).as_bytes(),
    )?;
    std::fs::write(out, bytes)?;

    let picture = contact_sheet(&limb, &shell, &Sheet { size: [1840, 1000], ..Sheet::default() }, &job)?;
    let ribs = shell::Ribs { layout: shell::RibLayout::Along, height_mm: 2.0, width_mm: 4.0, spacing_mm: 18.0 };
    let design = shell::Design { ribs: Some(ribs), ..shell::Design::default() };
    let zone_area_mm2 = shell.area_mm2() / 2.0;
    let materials = mechanics::compare(shell.volume_mm3(), zone_area_mm2, &mechanics::Materials::built_in());
    let size_mm = shell.bounds().map_or([0.0; 3], |(low, high)| (high - low).cast::<f64>().into());
    let summary = print::summary::Summary {
        title: "Guard for the left forearm, number 14".into(),
        team: Some("Tern Harbour".into()),
        made_on: None,
        size_mm,
        zone_area_mm2,
        bed: "not checked".into(),
        warnings: Vec::new(),
        design,
        materials,
        blow: print::summary::BlowTold::default(),
        filament: Some("PETG".into()),
        straps: vec!["25 mm wide: cut 330 mm".into()],
        picture,
    };
    std::fs::write(page, summary.pdf(&job)?)?;
    Ok(())
}
