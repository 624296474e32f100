//! All that a guard may carry, at once, on the demo shin: it is a solid, and every opening is counted in the file
//! itself.
#![allow(clippy::unwrap_used)]

use std::path::Path;

use engine::{Keep, MakeSettings, Marking, OpenDesign, StartSettings, open, read_scan, start};
use mesh::{Job, Mesh, repair};
use nalgebra::Point3;
use scan::{BodySite, CleanSettings, Side};
use serde_json::{Value, json};

const GAP_MM: f32 = 3.0;
const WALL_MM: f32 = 3.0;
const RELIEF_MM: f32 = 2.0;
const EXTRA_MM: f32 = 1.0;
const SEAT_MM: f32 = 0.6;

/// Handles of a closed surface in one piece: V − E + F = 2 − 2 g (Euler, Poincaré).
fn handles(mesh: &Mesh) -> i64 {
    let (v, f) = (mesh.points.len() as i64, mesh.triangles.len() as i64);
    assert_eq!(f % 2, 0, "a closed surface has an even number of triangles");
    (2 - (v - 3 * f / 2 + f)) / 2
}

/// A skin point of the zone at height `z`, `share` of the way from one side to the other.
fn spot(opened: &OpenDesign, z: f32, share: f32) -> Point3<f32> {
    let points = &opened.skin.mesh().points;
    let covered = &opened.zone.covered.distance_mm;
    let slice: Vec<usize> = (0..points.len()).filter(|v| (points[*v].z - z).abs() < 1.5).collect();
    let n = slice.len() as f32;
    let (x, y) = slice.iter().fold((0.0, 0.0), |(x, y), v| (x + points[*v].x / n, y + points[*v].y / n));
    let mut inside: Vec<usize> = slice.into_iter().filter(|v| covered[*v] > 0.0).collect();
    let mid = inside.iter().max_by(|a, b| covered[**a].total_cmp(&covered[**b])).unwrap();
    let (mx, my) = (points[*mid].x - x, points[*mid].y - y);
    let turn = |v: &usize| {
        let (px, py) = (points[*v].x - x, points[*v].y - y);
        (mx * py - my * px).atan2(mx * px + my * py)
    };
    inside.sort_by(|a, b| turn(a).total_cmp(&turn(b)));
    points[inside[(share * (inside.len() - 1) as f32) as usize]]
}

fn begin(folder: &Path, settings: impl FnOnce(&mut StartSettings), scan: &str) -> (Value, OpenDesign) {
    let mut about = StartSettings {
        site: BodySite::Shin,
        side: Side::Left,
        squad_number: None,
        title: "All of it".into(),
        clean: CleanSettings::default(),
        marking: Marking::Pen { accept_proposal: false },
        grow_mm: 0.0,
        keep: Keep::Beside,
        ..StartSettings::default()
    };
    settings(&mut about);
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans").join(scan);
    let started = start(&path, folder, &about, &Job::silent()).unwrap();
    let opened = open(&started.design, folder, &Job::silent()).unwrap();
    (serde_json::to_value(&started.design).unwrap(), opened)
}

fn make(design: &Value, folder: &Path, resolution_mm: f32) -> (engine::MakeReport, Mesh) {
    let design = locker::parse_design(&serde_json::to_string_pretty(design).unwrap(), "edited.json").unwrap();
    let out = folder.join("out");
    let settings =
        MakeSettings { resolution_mm: Some(resolution_mm), without_strength: true, ..MakeSettings::default() };
    let materials = mechanics::Materials::built_in();
    let report =
        engine::make(&design, folder, &out, &settings, &materials, &Job::silent()).unwrap_or_else(|e| panic!("{e}"));
    let printer = report.files.iter().find(|f| f.name.ends_with(print::STL_FILE)).unwrap();
    let mut mesh = read_scan(&out.join(&printer.name), &Job::silent()).unwrap().scan.mesh;
    repair::weld(&mut mesh, 0.0, &Job::silent()).unwrap();
    (report, mesh)
}

#[test]
fn everything_at_once_with_each_kind_of_vent() {
    let folder = tempfile::tempdir().unwrap();
    let (mut design, opened) = begin(folder.path(), |_| (), "shin-23.obj");
    let at = |z: f32, share: f32| json!(spot(&opened, z, share));
    let strokes = |p: &Value, radius: f32| json!([{ "strokes": { "dabs": [{ "at_mm": p, "radius_mm": radius }] } }]);
    let zs: Vec<f32> = (0..opened.skin.mesh().points.len())
        .filter(|v| opened.zone.covered.distance_mm[*v] > 0.0)
        .map(|v| opened.skin.mesh().points[v].z)
        .collect();
    let (low, high) = zs.iter().fold((f32::MAX, f32::MIN), |(l, h), z| (l.min(*z), h.max(*z)));
    let z = |share: f32| low + share * (high - low);
    let seat = at(z(0.30), 0.5);
    design["zone"]["regions"] = json!([
        // The first reinforced region is where branching ribs start.
        { "kind": { "reinforcement": { "extra_mm": 0.5, "falloff_mm": 6.0 } }, "sources": strokes(&at(z(0.43), 0.45), 8.0) },
        { "kind": { "relief": { "depth_mm": RELIEF_MM, "falloff_mm": 8.0 } }, "sources": strokes(&seat, 16.0) },
        { "kind": { "reinforcement": { "extra_mm": EXTRA_MM, "falloff_mm": 8.0 } }, "sources": strokes(&seat, 16.0) },
        { "kind": { "keep-clear": { "margin_mm": 1.0 } }, "sources": strokes(&at(z(0.55), 0.35), 5.0) },
    ]);
    let strap = |mm: f32| json!({ "strap-slot": { "strap_mm": mm, "opening_mm": 4.0 } });
    let fittings = json!([
        { "kind": strap(50.0), "at_mm": at(z(0.72), 0.14), "turn_deg": 90.0 },
        { "kind": strap(38.0), "at_mm": at(z(0.72), 0.86), "turn_deg": 90.0 },
        { "kind": strap(25.0), "at_mm": at(z(0.28), 0.18), "turn_deg": 90.0 },
        { "kind": { "lace-holes": { "count": 4, "hole_mm": 4.0, "pitch_mm": 9.0 } }, "at_mm": at(z(0.28), 0.82), "turn_deg": 90.0 },
        { "kind": { "tie-slot": { "tie_mm": 6.0, "bridge_mm": 5.0 } }, "at_mm": at(z(0.52), 0.8), "turn_deg": 0.0 },
        { "kind": { "hook-and-loop-seat": { "length_mm": 20.0, "width_mm": 14.0, "depth_mm": SEAT_MM } }, "at_mm": seat, "turn_deg": 0.0 },
        { "kind": { "stitch-holes": { "hole_mm": 1.6, "pitch_mm": 8.0, "inset_mm": 4.0 } }, "at_mm": at(z(0.5), 0.01), "turn_deg": 0.0 },
    ]);
    design["shell"]["fittings"] = fittings;
    design["shell"]["marks"] = json!([
        { "text": "23", "height_mm": 18.0, "relief_mm": 0.8, "at_mm": at(z(0.84), 0.5), "turn_deg": 0.0 },
        { "text": "TH", "height_mm": 10.0, "relief_mm": -0.6, "at_mm": at(z(0.13), 0.5), "turn_deg": 0.0 },
    ]);
    design["shell"]["gap_mm"] = json!(GAP_MM);
    design["shell"]["thickness_mm"] = json!(WALL_MM);
    // Straps 3, lace holes 4, tie slot 2: the rest are vents and stitch holes.
    let fixed = 9;
    for (kind, ribs) in [("round", "along"), ("slot", "around"), ("honeycomb", "crossed"), ("cells", "branching")] {
        let size = if kind == "cells" { 9.0 } else { 5.0 };
        design["shell"]["vents"] =
            json!({ "kind": kind, "size_mm": size, "ligament_mm": 3.0, "rim_distance_mm": 9.0, "seed": 4 });
        design["shell"]["ribs"] = json!({ "layout": ribs, "height_mm": 1.6, "width_mm": 3.0, "spacing_mm": 40.0 });
        let (report, mesh) = make(&design, folder.path(), 0.7);
        assert!(report.shell.solid.is_solid && report.shell.solid.pieces == 1, "{kind}: {:?}", report.shell.solid);
        // An edge of about 580 mm with a stitch hole every 8 mm has at least 50 of them, and there are vents besides.
        assert!(report.shell.openings > fixed + 52, "{kind}: {} openings", report.shell.openings);
        // The keep-clear spot makes one more hole.
        assert_eq!(handles(&mesh), report.shell.openings as i64 + 1, "{kind}: openings counted in the file");
        assert_eq!(report.zone.edges_in_scan.len(), 2, "the edge, and that of the spot kept clear");

        // Print files are at the origin, so the two faces are measured on the shell as built.
        let edited = locker::parse_design(&design.to_string(), "edited.json").unwrap();
        let opened = open(&edited, folder.path(), &Job::silent()).unwrap();
        let quality = shell::Quality { voxel_mm: 0.7, tolerance_mm: 0.02 };
        let shell = shell::build(&opened.skin, &opened.zone, &edited.shell, &quality, &Job::silent()).unwrap();
        let index = mesh::Bvh::new(&shell.mesh);
        let p = spot(&opened, z(0.30), 0.5);
        let hit = opened.skin.nearest(&p, None).unwrap();
        let n = opened.skin.normal_at(&hit);
        let distance = |p: &Point3<f32>| index.nearest(p, None).unwrap().distance2.sqrt();
        let inner = distance(&p);
        assert!((inner - GAP_MM - RELIEF_MM).abs() < 0.15, "{kind}: the relief stands {inner} off");
        let far = GAP_MM + RELIEF_MM + WALL_MM + EXTRA_MM - SEAT_MM + 4.0;
        let outer = distance(&(p + n * far));
        // The outer face is fair: it stands above where the skin alone would have it, never below.
        assert!((2.8..4.2).contains(&outer), "{kind}: the seat's floor is {outer} from where it is 4 at most");
    }
}

/// A guard of the mirrored scan is the mirror image, and what is written on it still reads from left to right.
#[test]
fn the_other_side_mirrors_the_guard_but_not_the_letters() {
    let folder = tempfile::tempdir().unwrap();
    let mut volumes = Vec::new();
    for (mirror, side) in [(false, "left"), (true, "right")] {
        let set = |about: &mut StartSettings| {
            about.clean.mirror = mirror;
            about.title = String::new();
        };
        let (mut design, opened) = begin(folder.path(), set, "forearm-07.ply");
        assert_eq!(design["side"], side);
        assert_eq!(design["title"], format!("Guard for the {side} shin"));
        let middle = opened.zone.covered.distance_mm.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).unwrap().0;
        let at = opened.skin.mesh().points[middle];
        design["shell"] = json!({ "marks": [{ "text": "L", "height_mm": 24.0, "relief_mm": 1.0, "at_mm": at }] });
        let design = locker::parse_design(&design.to_string(), "edited.json").unwrap();
        let quality = shell::Quality { voxel_mm: 0.6, tolerance_mm: 0.02 };
        let shell = shell::build(&opened.skin, &opened.zone, &design.shell, &quality, &Job::silent()).unwrap();
        volumes.push(shell.mesh.volume_mm3());

        let n = opened.skin.normal_at(&opened.skin.nearest(&at, None).unwrap());
        // To the viewer's right, with the limb's long axis upright.
        let right = nalgebra::Vector3::z().cross(&n).normalize();
        let mut feet = [Vec::new(), Vec::new()];
        // The letter is what stands out of the same guard without it.
        let plain = shell::Design { marks: Vec::new(), ..design.shell.clone() };
        let plain = shell::build(&opened.skin, &opened.zone, &plain, &quality, &Job::silent()).unwrap();
        let plain = mesh::Bvh::new(&plain.mesh);
        for p in shell.mesh.points.iter().filter(|p| plain.nearest(p, None).unwrap().distance2.sqrt() > 0.6) {
            feet[usize::from(p.z > at.z)].push((p - at).dot(&right));
        }
        let mean = |x: &[f32]| x.iter().sum::<f32>() / x.len() as f32;
        assert!(feet.iter().all(|f| f.len() > 20), "the letter stands out");
        assert!(mean(&feet[0]) > mean(&feet[1]) + 2.0, "the foot of the L points to the right ({side})");
    }
    assert!((volumes[0] / volumes[1] - 1.0).abs() < 0.005, "{volumes:?}");
}

/// Cropping away skin that the guard does not need changes nothing about the guard.
#[test]
fn a_crop_in_the_design_file_leaves_the_guard_where_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let (mut design, opened) = begin(folder.path(), |_| (), "forearm-07.ply");
    design["shell"] = json!({});
    let (whole, _) = make(&design, folder.path(), 1.0);
    let covered = (0..opened.skin.mesh().points.len()).filter(|v| opened.zone.covered.distance_mm[*v] > 0.0);
    let low = covered.map(|v| opened.skin.mesh().points[v].z).fold(f32::MAX, f32::min);
    let placement: scan::Placement = serde_json::from_value(design["placement"].clone()).unwrap();
    let in_scan = |z: f64| placement.scan_from_limb(&Point3::new(0.0, 0.0, z));
    let point = in_scan(f64::from(low) - 15.0);
    let keep = in_scan(100.0) - in_scan(0.0);
    design["clean"]["crop"] = json!([{ "plane": { "point": point, "keep": keep } }]);
    let (cropped, _) = make(&design, folder.path(), 1.0);
    assert!(cropped.cleaning.steps.iter().any(|s| s.name == "crop" && s.changed));
    assert!((whole.zone.area_cm2 / cropped.zone.area_cm2 - 1.0).abs() < 0.002);
    assert!((whole.shell.volume_cm3 / cropped.shell.volume_cm3 - 1.0).abs() < 0.005);
    for k in 0..3 {
        assert!((whole.shell.size_mm[k] - cropped.shell.size_mm[k]).abs() < 0.5);
    }
    // A box that holds the whole scan takes nothing away.
    design["clean"]["crop"] = json!([{ "box": { "low": [-1e4, -1e4, -1e4], "high": [1e4, 1e4, 1e4] } }]);
    let (boxed, _) = make(&design, folder.path(), 1.0);
    assert_eq!(boxed.shell.volume_cm3, whole.shell.volume_cm3);
}
