//! Files from the test folders of well-known readers end as their `expect.json` says, in little memory.
//!
//! The files are not part of the repository: the test runs where `$PAULDRON_DATA/badfiles` or
//! `../shared/data/badfiles` beside the workspace exists.

use mesh::Job;
use mesh::read::{ReadError, read_file, survey};
use peak_alloc::PeakAlloc;
use std::path::PathBuf;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

/// Files for which another outcome than the listed one is right, and why.
const DIFFERENT: [(&str, &str, &str); 3] = [
    (
        "trimesh__unit_cube.STL",
        "accept",
        "a closed cube of size 1, the same as assimp__cube.ply and six others that are to be accepted; \
         which unit makes it a limb is decided and said when the unit is chosen",
    ),
    (
        "trimesh__wallhole.obj",
        "accept",
        "its polygons are closed (each directed side is met once by its opposite); the bad edge and the duplicate \
         face that are listed come from cutting its concave polygons as fans",
    ),
    (
        "trimesh__face_in_group_name_mid_file.obj",
        "warn",
        "two loose triangles: an open surface, which all other such files are to be warned of",
    ),
];

/// Formats that are refused by name, whatever the file holds.
fn is_not_read(file: &str, error: &ReadError) -> bool {
    let named = |word: &str| error.to_string().contains(word);
    (file.ends_with(".3mf") && named("a 3MF file")) || (file.ends_with(".off") && named("an OFF file"))
}

#[test]
fn every_file_ends_as_expected_below_300_megabytes() {
    let root = std::env::var_os("PAULDRON_DATA")
        .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data"), PathBuf::from);
    let folder = root.join("badfiles");
    let Ok(list) = std::fs::read_to_string(folder.join("expect.json")) else {
        println!("not run: {} is not there (set PAULDRON_DATA)", folder.display());
        return;
    };
    let list: Vec<serde_json::Value> = serde_json::from_str(&list).unwrap();
    assert!(list.len() > 100);
    let mut wrong = Vec::new();
    for row in &list {
        let file = row["file"].as_str().unwrap();
        let expected = row["expect"].as_str().unwrap();
        MEMORY.reset_peak_usage();
        let (end, sentences) = match read_file(&folder.join(file), &Job::silent()) {
            Err(error) if is_not_read(file, &error) => continue,
            Err(error) => ("reject", vec![error.to_string()]),
            Ok(scan) => {
                let mut warnings = scan.warnings;
                warnings.extend(survey(&scan.mesh, &Job::silent()).unwrap().warnings());
                (if warnings.is_empty() { "accept" } else { "warn" }, warnings)
            }
        };
        let peak = MEMORY.peak_usage_as_mb();
        let different = DIFFERENT.iter().find(|d| d.0 == file).map(|d| d.1);
        let fits = match (different, expected) {
            (Some(other), _) => end == other,
            (None, "accept") => end == "accept",
            (None, "accept with warning") => end == "warn",
            (None, "reject") => end == "reject",
            (None, "reject or warn") => end != "accept",
            (None, other) => panic!("{file}: unknown end {other}"),
        };
        if !fits || peak > 300.0 {
            wrong.push(format!("{file}: {expected}, but: {end}, {peak:.0} MB, {sentences:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
