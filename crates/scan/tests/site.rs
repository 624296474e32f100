//! A body site that the limb's size speaks against is doubted; one that it fits is not.
#![allow(clippy::unwrap_used, clippy::print_stderr)]

use std::path::{Path, PathBuf};

use mesh::Job;
use scan::{BodySite, CleanSettings, LimbSize, ScanWarning, Side, clean};

/// Cleans a scan as of `site`: its size, and whether the report doubts the site.
fn cleaned(path: &Path, site: BodySite) -> (LimbSize, bool) {
    let file = mesh::read::read_file(path, &Job::silent()).unwrap();
    let report = clean(&file, site, Side::Left, &CleanSettings::default(), &Job::silent()).unwrap().report;
    (report.size, report.warnings.iter().any(|w| matches!(w, ScanWarning::Site(_))))
}

fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans").join(name)
}

#[test]
fn no_demo_scan_is_doubted_at_its_own_site() {
    let truth: serde_json::Value = serde_json::from_slice(&std::fs::read(demo("truth.json")).unwrap()).unwrap();
    let scans = truth.as_array().unwrap();
    assert_eq!(scans.len(), 7);
    for scan in scans {
        let site: BodySite = serde_json::from_value(scan["site"].clone()).unwrap();
        let (size, doubted) = cleaned(&demo(scan["file"].as_str().unwrap()), site);
        assert!(!doubted, "{}: {size:?} as {site:?}", scan["file"]);
    }
}

#[test]
fn no_shared_limb_is_doubted_at_its_own_site() {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data");
    let folder = std::env::var_os("PAULDRON_DATA").map_or(beside, PathBuf::from);
    let limbs = [
        ("limbs/footankle_find_A_L_m.ply", BodySite::Ankle),
        ("limbs/footankle_find_C_dorsiflex_L_mm.ply", BodySite::Ankle),
        ("limbs/forearm_L_smpl_man_mm.stl", BodySite::Forearm),
        ("limbs/forearm_L_smpl_woman_mm.stl", BodySite::Forearm),
        ("limbs/handforearm_L_smpl_woman_mm.stl", BodySite::Wrist),
        ("limbs/handwrist_libhand_color_mm.ply", BodySite::Wrist),
        ("limbs/ribside_L_smpl_woman_mm.stl", BodySite::Ribs),
        ("limbs/shin_L_smpl_man_mm.stl", BodySite::Shin),
        ("limbs/shoulder_L_smpl_woman_mm.stl", BodySite::Shoulder),
        ("limbs/thigh_L_smpl_woman_mm.stl", BodySite::Thigh),
        ("scans/degraded_handwrist_penline_mm.ply", BodySite::Wrist),
        ("scans/degraded_shin_L_penline_mm.ply", BodySite::Shin),
    ];
    for (name, site) in limbs {
        let path = folder.join(name);
        if !path.exists() {
            eprintln!("left out: {} is not there", path.display());
            continue;
        }
        let (size, doubted) = cleaned(&path, site);
        assert!(!doubted, "{name}: {size:?}");
    }
}

/// What is plain to the eye: a shoulder or a foot is no forearm, a forearm no thigh, a hand no rib side, …
#[test]
fn a_demo_scan_is_doubted_at_a_site_of_another_size() {
    let wrong = [
        ("shoulder-19.ply", BodySite::Forearm),
        ("ankle-31.ply", BodySite::Forearm),
        ("ribs-04.ply", BodySite::Wrist),
        ("forearm-07.ply", BodySite::Thigh),
        ("forearm-16.stl", BodySite::Ankle),
        ("wrist-12.ply", BodySite::Ribs),
        ("shin-23.obj", BodySite::Shoulder),
    ];
    for (name, site) in wrong {
        let (size, doubted) = cleaned(&demo(name), site);
        assert!(doubted, "{name} as {site:?}: {size:?}");
        assert_eq!(size.doubt(BodySite::Other), None);
    }
}
