//! Every file in `corpus/` ends as its row in `corpus/README.md` says.

use mesh::Job;
use mesh::read::{read_file, survey};
use std::collections::BTreeSet;
use std::path::Path;

#[test]
fn every_file_ends_as_its_row_says() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus");
    let table = std::fs::read_to_string(folder.join("README.md")).unwrap();
    let mut wrong = Vec::new();
    let mut listed = BTreeSet::new();
    for row in table.lines().filter(|l| l.starts_with("| ")).skip(1) {
        let cells: Vec<&str> = row.trim_matches('|').split('|').map(str::trim).collect();
        let [file, ends, says, _] = cells.as_slice() else { panic!("{row}") };
        listed.insert((*file).to_owned());
        let (end, sentences) = match read_file(&folder.join(file), &Job::silent()) {
            Err(error) => ("reject", vec![error.to_string()]),
            Ok(scan) => {
                let mut warnings = scan.warnings;
                warnings.extend(survey(&scan.mesh, &Job::silent()).unwrap().warnings());
                (if warnings.is_empty() { "accept" } else { "warn" }, warnings)
            }
        };
        let said = *says == "-" || sentences.iter().any(|s| s.contains(says));
        if end != *ends || !said {
            wrong.push(format!("{file}: should {ends} saying “{says}”, but: {end} {sentences:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let there: BTreeSet<String> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .filter(|n| n != "README.md" && n != ".gitattributes")
        .collect();
    assert_eq!(listed, there);
}

#[test]
fn colours_are_the_same_in_every_spelling() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus");
    for file in
        ["colours_0_1.obj", "colours_0_255.obj", "ascii_colours.ply", "ascii_float_colours.ply", "odd_order.ply"]
    {
        let scan = read_file(&folder.join(file), &Job::silent()).unwrap();
        assert_eq!(scan.mesh.colours, Some(vec![[51, 102, 255]; 4]), "{file}");
    }
}

#[test]
fn the_body_is_the_same_in_every_format() {
    // A corner of a box: a sixth of the cube on its edges.
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus");
    for file in [
        "binary.stl",
        "binary_minus_zero.stl",
        "ascii.stl",
        "ascii_shouting_crlf.stl",
        "ascii_one_line.stl",
        "ascii_old_mac.stl",
        "plain.obj",
        "faces_first.obj",
        "negative.obj",
        "continued.obj",
        "corner_spellings.obj",
        "ascii.ply",
        "little.ply",
        "big.ply",
        "odd_order.ply",
        "empty_rows.ply",
    ] {
        let scan = read_file(&folder.join(file), &Job::silent()).unwrap();
        assert_eq!((scan.mesh.points.len(), scan.mesh.triangles.len()), (4, 4), "{file}");
        assert!((scan.mesh.volume_mm3() - 50.0_f64.powi(3) / 6.0).abs() < 1e-6, "{file}");
    }
    // An L of 1600 - 900 mm² extruded by 20 mm.
    let prism = read_file(&folder.join("concave_prism.obj"), &Job::silent()).unwrap();
    assert!((prism.mesh.volume_mm3() - 14_000.0).abs() < 1e-6);
}
