//! Cleaning of surfaces from outside the project, where the folder with them exists.
#![allow(clippy::unwrap_used, clippy::print_stderr)]

use std::path::PathBuf;

use mesh::read::{ScanFile, read_file};
use mesh::{Adjacency, Job, Surface};
use nalgebra::{Matrix4, Point3};
use scan::{BodySite, CleanSettings, Cleaned, Side, Unit, clean};

/// A file of the data folder; `None`, with a note, where it does not exist.
fn data(name: &str) -> Option<PathBuf> {
    let beside = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data");
    let folder = std::env::var_os("PAULDRON_DATA").map_or(beside, PathBuf::from);
    let found = folder.join(name);
    if !found.exists() {
        eprintln!("left out: {} is not there", found.display());
    }
    found.exists().then_some(found)
}

fn read(name: &str) -> Option<ScanFile> {
    Some(read_file(&data(name)?, &Job::silent()).unwrap())
}

fn run(file: &ScanFile) -> Cleaned {
    clean(file, BodySite::Other, Side::Left, &CleanSettings::default(), &Job::silent()).unwrap()
}

fn counted(cleaned: &Cleaned, step: &str, what: &str) -> usize {
    cleaned.report.steps.iter().find(|s| s.name == step).unwrap().counts[what]
}

fn truth_of(scan: &str) -> Option<serde_json::Value> {
    let text = std::fs::read_to_string(data(&format!("scans/{scan}.truth.json"))?).unwrap();
    Some(serde_json::from_str(&text).unwrap())
}

fn point(value: &serde_json::Value) -> Point3<f64> {
    Point3::from_slice(&serde_json::from_value::<Vec<f64>>(value.clone()).unwrap())
}

/// Both spoilt scans: noise of 0.3 mm, five holes, six loose bits, flipped faces, any pose.
#[test]
fn a_spoilt_limb_comes_out_as_it_was_within_a_tenth_of_a_millimetre() {
    for (scan, ends) in [("degraded_shin_L_penline_mm", 2), ("degraded_handwrist_penline_mm", 1)] {
        let (Some(truth), Some(file)) = (truth_of(scan), read(&format!("scans/{scan}.ply"))) else { continue };
        let Some(source) = read(truth["source_file"].as_str().unwrap()) else { continue };
        let rows: Vec<Vec<f64>> = serde_json::from_value(truth["pose_source_mm_to_file"].clone()).unwrap();
        let pose = Matrix4::from_row_iterator(rows.into_iter().flatten());
        let mut source = source.mesh;
        for p in &mut source.points {
            *p = pose.transform_point(&p.cast::<f64>()).cast();
        }
        let skin = Surface::new(source);

        let cleaned = run(&file);
        let limb = &cleaned.limb;
        assert_eq!(cleaned.report.unit.unit, Unit::Mm);
        assert!((cleaned.report.noise_mm / truth["noise_sigma_mm"].as_f64().unwrap() - 1.0).abs() < 0.1);
        assert!(counted(&cleaned, "pieces", "pieces") >= truth["fragments"].as_array().unwrap().len());
        assert_eq!(counted(&cleaned, "holes", "ends"), ends);
        assert_eq!(Adjacency::new(&limb.mesh).boundary_loops(&limb.mesh).len(), ends);

        let points: Vec<Point3<f64>> =
            limb.mesh.points.iter().map(|p| limb.placement.scan_from_limb(&p.cast())).collect();
        let off: Vec<f64> =
            points.iter().map(|p| f64::from(skin.nearest(&p.cast(), None).unwrap().distance2.sqrt())).collect();
        let rms = (off.iter().map(|d| d * d).sum::<f64>() / off.len() as f64).sqrt();
        let worst = off.iter().copied().fold(0.0, f64::max);
        assert!(rms < 0.1 && worst < 1.0, "{scan}: rms {rms}, worst {worst}");

        for hole in truth["holes"].as_array().unwrap() {
            let (middle, radius) = (point(&hole["centre_file"]), hole["nominal_radius_mm"].as_f64().unwrap());
            let told =
                cleaned.report.holes.iter().any(|h| (Point3::from(h.middle_scan) - middle).norm() < 0.5 * radius);
            assert!(told, "{scan}: hole at {middle} is not in the report");
            let inside = points.iter().filter(|p| (*p - middle).norm() < 0.7 * radius).count();
            assert!(inside > 10, "{scan}: {inside} points in the hole at {middle}");
        }
        // Nothing is left where the loose bits were.
        for bit in truth["fragments"].as_array().unwrap() {
            let middle = point(&bit["centroid_file"]);
            let lift = bit["lift_mm"].as_f64().unwrap();
            let nearest = points.iter().map(|p| (p - middle).norm()).fold(f64::INFINITY, f64::min);
            assert!(lift < 10.0 || nearest > 0.25 * lift, "{scan}: {nearest} from a loose bit");
        }
    }
}

/// What is clean already stays where it is, with its own ends open and the end nearer the body up.
#[test]
fn clean_limbs_keep_their_skin_and_their_ends() {
    let limbs = [
        ("forearm_L_smpl_man_mm.stl", 2),
        ("forearm_L_smpl_woman_mm.stl", 2),
        ("handforearm_L_smpl_woman_mm.stl", 1),
        ("ribside_L_smpl_woman_mm.stl", 1),
        ("shin_L_smpl_man_mm.stl", 2),
        ("shoulder_L_smpl_woman_mm.stl", 2),
        ("thigh_L_smpl_woman_mm.stl", 2),
        ("footankle_find_A_L_m.ply", 1),
        ("footankle_find_C_dorsiflex_L_mm.ply", 1),
        ("handwrist_libhand_color_mm.ply", 1),
    ];
    for (name, ends) in limbs {
        let Some(file) = read(&format!("limbs/{name}")) else { continue };
        let unit = if name.contains("_m.") { Unit::M } else { Unit::Mm };
        let cleaned = run(&file);
        let limb = &cleaned.limb;
        assert_eq!(cleaned.report.unit.unit, unit, "{name}");
        assert_eq!(counted(&cleaned, "holes", "ends"), ends, "{name}");
        let adjacency = Adjacency::new(&limb.mesh);
        assert_eq!((adjacency.non_manifold_edges, adjacency.flipped_edges), (0, 0), "{name}");
        assert_eq!(adjacency.boundary_loops(&limb.mesh).len(), ends, "{name}");
        // These files face outward, and cleaning must not turn them.
        assert!(counted(&cleaned, "outward", "turned") < 10, "{name}");

        let mut source = file.mesh.clone();
        for p in &mut source.points {
            *p = limb.placement.limb_from_scan(&p.cast()).cast();
        }
        let skin = Surface::new(source);
        let off = |p: &Point3<f32>| f64::from(skin.nearest(p, None).unwrap().distance2);
        let rms = (limb.mesh.points.iter().map(off).sum::<f64>() / limb.mesh.points.len() as f64).sqrt();
        // Evening out takes the short waves of skin, by at most 0.3 mm anywhere.
        assert!(rms < 0.1, "{name}: moved by {rms}");
    }
}

/// A real range scan of statuettes on a table: the table goes, one statuette stays without its islands.
#[test]
fn a_table_is_taken_away_from_a_range_scan() {
    let Some(file) = read("scans/rangescan_three_figurines_on_table_m.stl") else { return };
    let cleaned = run(&file);
    assert_eq!(cleaned.report.unit.unit, Unit::M);
    assert!(cleaned.report.steps.iter().any(|s| s.name == "table" && s.changed));
    assert!(counted(&cleaned, "pieces", "pieces") > 20);
    let limb = &cleaned.limb;
    let adjacency = Adjacency::new(&limb.mesh);
    assert_eq!((adjacency.connected_components().1, adjacency.non_manifold_edges, adjacency.flipped_edges), (1, 0, 0));
    // No plane with much of the area is left.
    assert!(mesh::repair::support_plane(&limb.mesh, &Job::silent()).unwrap().is_none());
}

/// A real photogrammetry scan without unit: flagged as unsure, its open base kept.
#[test]
fn a_bust_without_unit_is_flagged_and_keeps_its_open_base() {
    let Some(file) = read("scans/photoscan_bust_open_base_unitless.obj") else { return };
    let cleaned = run(&file);
    assert!(!cleaned.report.unit.sure && !cleaned.report.warnings.is_empty());
    assert_eq!((counted(&cleaned, "holes", "ends"), counted(&cleaned, "holes", "filled")), (1, 0));
}
