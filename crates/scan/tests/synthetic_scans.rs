//! Cleaning of scans that are made here, so that everything about them is known.
#![allow(clippy::unwrap_used)]

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

use mesh::read::{Format, ScanFile};
use mesh::{Adjacency, Job, Mesh};
use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion, Vector3};
use scan::{BodySite, CleanSettings, Cleaned, Crop, Limb, ScanError, Side, Unit, clean, inspect};
use test_shapes::random::{gauss, seeded, uniform};
use test_shapes::{Diagonals, Shape, Wrap, grid, plane};

const LENGTH: f64 = 260.0;

/// Radius of the cone at a height, mm: 32 at the far end, 45 at the near one.
fn radius(z: f64) -> f64 {
    38.5 + 13.0 * z / LENGTH
}

/// A cone along z with two holes, ragged ends, flipped triangles, noise, loose bits and a table beside it; mm.
fn scanned_cone(noise: f64, table: bool) -> Mesh {
    let mut random = seeded(11);
    let (around, rows) = (130_u32, 149_u32);
    let mut scan = grid(around, rows, Wrap::Columns, Diagonals::Staggered, |u, v| {
        let ((s, c), z) = ((u * std::f64::consts::TAU).sin_cos(), LENGTH * (v - 0.5));
        let r = radius(z) + noise * gauss(&mut random);
        [r * c, r * s, z]
    });
    let holes = [([38.5, 0.0, 0.0], 7.0), ([0.0, -41.0, 60.0], 10.0)];
    let mut triangles = Vec::new();
    for (i, mut t) in scan.triangles.iter().copied().enumerate() {
        let row = i as u32 / (2 * around);
        let p = Point3::from(scan.points[t[0] as usize]);
        let ragged = (row == 0 || row == rows - 1) && uniform(&mut random) < 0.3;
        if ragged || holes.iter().any(|(h, r)| (p - Point3::from(*h)).norm() < *r) {
            continue;
        }
        if uniform(&mut random) < 0.05 {
            t.swap(1, 2);
        }
        triangles.push(t);
    }
    scan.triangles = triangles;
    for bit in 0..4_u8 {
        let middle = [80.0, 10.0 * f64::from(bit), -60.0 + 30.0 * f64::from(bit)];
        let loose = Shape {
            points: (0..9).map(|_| middle.map(|x| (x + 3.0 * gauss(&mut random)) as f32)).collect(),
            triangles: (0..7).map(|i| [i, i + 1, i + 2]).collect(),
        };
        scan = scan.and(&loose);
    }
    if table {
        let table = plane(89, 89, 4.0).flipped().mapped(|[x, y, _]| [x - 180.0, -50.0, y - 180.0]).noisy(noise, 12);
        scan = scan.and(&table);
    }
    let mut mesh: Mesh = scan.build();
    mesh.colours = Some(vec![[200, 150, 120]; mesh.points.len()]);
    mesh
}

fn some_pose() -> Isometry3<f64> {
    Isometry3::from_parts(Translation3::new(310.0, -120.0, 75.0), UnitQuaternion::from_euler_angles(0.7, -1.1, 2.3))
}

fn as_file(mesh: &Mesh, pose: &Isometry3<f64>, unit: Unit) -> ScanFile {
    let mut mesh = mesh.clone();
    for p in &mut mesh.points {
        *p = Point3::from((pose * p.cast::<f64>()).coords / unit.mm()).cast();
    }
    ScanFile { mesh, format: Format::PlyLittleEndian, texture: None, warnings: Vec::new() }
}

fn run(file: &ScanFile, settings: &CleanSettings) -> Cleaned {
    clean(file, BodySite::Forearm, Side::Left, settings, &Job::silent()).unwrap()
}

fn counted(cleaned: &Cleaned, step: &str, what: &str) -> usize {
    cleaned.report.steps.iter().find(|s| s.name == step).unwrap().counts[what]
}

#[test]
fn a_spoilt_cone_in_any_unit_and_pose_comes_out_as_the_cone() {
    let scanned = scanned_cone(0.2, true);
    let pose = some_pose();
    for unit in Unit::ALL {
        let cleaned = run(&as_file(&scanned, &pose, unit), &CleanSettings::default());
        let (limb, report) = (&cleaned.limb, &cleaned.report);
        assert_eq!(report.unit.unit, unit, "{}", report.unit.why);
        assert!(report.steps.iter().find(|s| s.name == "table").unwrap().changed);
        assert_eq!(counted(&cleaned, "holes", "filled"), 2, "{report:?}");
        assert_eq!(counted(&cleaned, "holes", "ends"), 2);
        assert!(counted(&cleaned, "pieces", "pieces") >= 4);

        let adjacency = Adjacency::new(&limb.mesh);
        assert_eq!((adjacency.non_manifold_edges, adjacency.flipped_edges), (0, 0));
        assert_eq!(adjacency.boundary_loops(&limb.mesh).len(), 2);
        assert_eq!(adjacency.connected_components().1, 1);
        assert_eq!(limb.mesh.colours.as_ref().unwrap().len(), limb.mesh.points.len());

        // The axis of the cone, wide end up.
        let up = limb.placement.pose.rotation * (pose.rotation * Vector3::z());
        assert!(up.angle(&Vector3::z()).to_degrees() < 0.5, "{}", up.angle(&Vector3::z()).to_degrees());

        // Back in the scan the surface is the cone's.
        let slope = (1.0 + (13.0 / LENGTH).powi(2)).sqrt();
        let (mut square, mut worst) = (0.0, 0.0_f64);
        for p in &limb.mesh.points {
            let q = limb.placement.scan_from_limb(&p.cast());
            let q = pose.inverse_transform_point(&Point3::from(q.coords * unit.mm()));
            let off = (q.coords.xy().norm() - radius(q.z)) / slope;
            square += off * off;
            // The outermost points of a ragged end have neighbours on one side only.
            worst = worst.max(if q.z.abs() < 0.5 * LENGTH - 6.0 { off.abs() } else { 0.5 * off.abs() });
        }
        let rms = (square / limb.mesh.points.len() as f64).sqrt();
        assert!(rms < 0.1 && worst < 0.45, "{unit:?}: rms {rms}, worst {worst}");

        for t in 0..limb.mesh.triangles.len() {
            let [a, b, c] = limb.mesh.corners(t);
            assert!((b - a).norm().max((c - b).norm()).max((a - c).norm()) <= 1.5001);
            let out = Vector3::new(a.x, a.y, 0.0);
            assert!(limb.mesh.triangle_normal(t).dot(&out) > 0.0 || limb.mesh.cross(t).norm() < 0.05);
        }
        let (low, high) = limb.mesh.bounds().unwrap();
        assert!(nalgebra::center(&low, &high).coords.norm() < 1e-3);
    }
}

#[test]
fn placement_goes_there_and_back() {
    for mirror in [false, true] {
        let settings = CleanSettings { mirror, ..CleanSettings::default() };
        let cleaned = run(&as_file(&scanned_cone(0.0, false), &some_pose(), Unit::M), &settings);
        let placement = cleaned.limb.placement;
        for p in [Point3::new(0.31, -0.12, 0.07), Point3::new(-3.0, 0.5, 12.0)] {
            let back = placement.scan_from_limb(&placement.limb_from_scan(&p));
            assert!((back - p).norm() < 1e-6 * p.coords.norm());
        }
        assert_eq!(cleaned.limb.side, if mirror { Side::Right } else { Side::Left });
        // Still outward: the volume of the tube, its ends closed by the axis, is positive.
        let outward = (0..cleaned.limb.mesh.triangles.len())
            .map(|t| {
                let [a, ..] = cleaned.limb.mesh.corners(t);
                cleaned.limb.mesh.cross(t).dot(&Vector3::new(a.x.into(), a.y.into(), 0.0))
            })
            .sum::<f64>();
        assert!(outward > 0.0);
    }
}

#[test]
fn one_thread_and_many_give_the_same_bytes() {
    let file = as_file(&scanned_cone(0.2, true), &some_pose(), Unit::Cm);
    let with = |n| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(n).build().unwrap();
        pool.install(|| run(&file, &CleanSettings::default()))
    };
    let (one, three) = (with(1), with(3));
    assert_eq!(one, three);
    assert!(
        one.limb
            .mesh
            .points
            .iter()
            .zip(&three.limb.mesh.points)
            .all(|(a, b)| { a.coords.map(f32::to_bits) == b.coords.map(f32::to_bits) })
    );
}

#[test]
fn with_every_step_off_only_the_place_changes() {
    let mesh = scanned_cone(0.2, true);
    let off = CleanSettings {
        unit: Some(Unit::Mm),
        weld_tolerance_mm: None,
        mend: false,
        remove_table_plane: false,
        drop_small_pieces: false,
        smooth: 0.0,
        fill_holes_mm: 0.0,
        longest_edge_mm: None,
        roughness_mm: 0.0,
        upright: false,
        ..CleanSettings::default()
    };
    let file = as_file(&mesh, &Isometry3::identity(), Unit::Mm);
    let limb = run(&file, &off).limb;
    assert_eq!(limb.mesh.triangles.len(), mesh.triangles.len());
    for (t, corners) in mesh.triangles.iter().enumerate() {
        let back = limb.mesh.corners(t).map(|p| limb.placement.scan_from_limb(&p.cast()));
        for (p, v) in back.iter().zip(corners) {
            assert!((p - mesh.points[*v as usize].cast::<f64>()).norm() < 1e-4);
        }
    }
}

#[test]
fn crops_are_in_the_files_coordinates_and_unit() {
    let file = as_file(&scanned_cone(0.0, true), &Isometry3::translation(5.0, 6.0, 7.0), Unit::Inch);
    let inches = |mm: f64| mm / 25.4;
    let crop = vec![
        Crop::Box {
            low: [inches(-45.0), inches(-42.0), inches(-200.0)],
            high: [inches(55.0), inches(60.0), inches(200.0)],
        },
        Crop::Plane { point: [0.0, 0.0, inches(27.0)], keep: [0.0, 0.0, 3.0] },
    ];
    let settings = CleanSettings { unit: Some(Unit::Inch), crop, upright: false, ..CleanSettings::default() };
    let limb = run(&file, &settings).limb;
    let low = limb.mesh.points.iter().map(|p| limb.placement.scan_from_limb(&p.cast()).z).fold(f64::INFINITY, f64::min);
    assert!((low - inches(27.0)).abs() < 1e-3, "{low}");
    let nothing = CleanSettings {
        crop: vec![Crop::Plane { point: [0.0, 0.0, 1e6], keep: [0.0, 0.0, 1.0] }],
        ..CleanSettings::default()
    };
    let error = clean(&file, BodySite::Shin, Side::Left, &nothing, &Job::silent()).unwrap_err();
    assert_eq!(error, ScanError::NothingLeft { number: 1 });
}

#[test]
fn a_file_without_surface_is_refused() {
    let flat = Mesh::new(vec![Point3::new(1.0, 2.0, 3.0); 3], vec![[0, 1, 2]]);
    let file = as_file(&flat, &Isometry3::identity(), Unit::Mm);
    let error = clean(&file, BodySite::Shin, Side::Left, &CleanSettings::default(), &Job::silent()).unwrap_err();
    assert_eq!(error, ScanError::NoSurface { triangles: 1 });
    assert!(
        inspect(&file, &CleanSettings::default(), &Job::silent()).unwrap().0.trouble.unwrap().contains("no surface")
    );
}

#[test]
fn cleaning_that_is_cancelled_at_any_step_stops_there() {
    let file = as_file(&scanned_cone(0.2, true), &some_pose(), Unit::Mm);
    let run = |at: usize| {
        let (own, reports) = (Arc::new(OnceLock::<Job>::new()), Arc::new(AtomicUsize::new(0)));
        let (inner, count) = (own.clone(), reports.clone());
        let job = Job::new(move |_, _| {
            if count.fetch_add(1, Ordering::Relaxed) == at {
                inner.get().unwrap().cancel();
            }
        });
        own.set(job.clone()).unwrap();
        let done = clean(&file, BodySite::Shin, Side::Left, &CleanSettings::default(), &job);
        (done, reports.load(Ordering::Relaxed))
    };
    let (done, all) = run(usize::MAX);
    assert!(done.is_ok() && all >= 10, "{all} reports");
    // The last report says that all is done.
    for at in 0..all - 1 {
        let (done, reports) = run(at);
        assert!(matches!(done, Err(ScanError::Cancelled(_))), "at report {at}");
        assert_eq!(reports, at + 1);
    }
}

#[test]
fn inspection_says_what_lies_in_the_file() {
    let file = as_file(&scanned_cone(0.2, true), &some_pose(), Unit::Mm);
    let (found, limb) = inspect(&file, &CleanSettings::default(), &Job::silent()).unwrap();
    let cleaned = Limb { site: BodySite::Other, side: Side::Unknown, ..run(&file, &CleanSettings::default()).limb };
    assert_eq!(limb, Some(cleaned));
    assert_eq!((found.unit.unit, found.unit.sure), (Unit::Mm, true));
    assert!(found.colours && found.pieces >= 6 && found.open_edges > 600);
    let text = serde_json::to_string(&found).unwrap();
    assert!(text.contains("holes were filled"), "{text}");
}

#[test]
fn a_picture_colours_the_skin_at_the_right_height() {
    let mut file = as_file(&scanned_cone(0.0, false), &Isometry3::identity(), Unit::Mm);
    file.mesh.colours = None;
    // The lower half of the picture is blue, the upper red; it is laid on by height.
    let height = |v: &u32| [0.5, file.mesh.points[*v as usize].z / LENGTH as f32 + 0.5];
    let uv = file.mesh.triangles.iter().map(|t| [height(&t[0]), height(&t[1]), height(&t[2])]).collect();
    let pixels = vec![[250, 0, 0], [0, 0, 250]];
    file.texture = Some(mesh::read::Texture { width: 1, height: 2, pixels, uv });
    let limb = run(&file, &CleanSettings::default()).limb;
    let colours = limb.mesh.colours.as_ref().unwrap();
    for (p, colour) in limb.mesh.points.iter().zip(colours) {
        // Between the middles of the two pixels the colours blend; an edge length beyond, they are pure.
        let z = limb.placement.scan_from_limb(&p.cast()).z / LENGTH + 0.5;
        if !(0.23..=0.77).contains(&z) {
            assert_eq!(*colour, if z > 0.5 { [250, 0, 0] } else { [0, 0, 250] }, "at {z}");
        }
    }
}

#[test]
fn a_picture_does_not_hide_the_noise_nor_miss_coarse_triangles() {
    let noisy = as_file(&scanned_cone(0.3, false), &Isometry3::identity(), Unit::Mm);
    let mut file = noisy.clone();
    file.mesh.colours = None;
    let height = |v: &u32| [0.5, file.mesh.points[*v as usize].z / LENGTH as f32 + 0.5];
    let uv = file.mesh.triangles.iter().map(|t| [height(&t[0]), height(&t[1]), height(&t[2])]).collect();
    // One dark row in a hundred: a line that no point of the file need lie on.
    let pixels = (0..100).map(|row| if row == 50 { [20; 3] } else { [230; 3] }).collect();
    file.texture = Some(mesh::read::Texture { width: 1, height: 100, pixels, uv });
    let fine = CleanSettings { longest_edge_mm: Some(1.0), ..CleanSettings::default() };
    let (plain, pictured) = (run(&noisy, &fine), run(&file, &fine));
    assert_eq!(plain.report.noise_mm, pictured.report.noise_mm);
    assert_eq!(plain.limb.mesh.points, pictured.limb.mesh.points);
    let limb = pictured.limb;
    let colours = limb.mesh.colours.as_ref().unwrap();
    let (mut dark, mut wrong) = (0, 0);
    for (p, colour) in limb.mesh.points.iter().zip(colours) {
        // Pixel rows come from the top; the middle of row 50 is 50.5 rows below it.
        let below = (0.5 - limb.placement.scan_from_limb(&p.cast()).z / LENGTH) * 100.0;
        let off = (below - 50.5).abs();
        dark += usize::from(colour[0] < 100);
        wrong += usize::from((off < 0.2 && colour[0] > 160) || (off > 1.5 && colour[0] < 215));
    }
    // Where noise folds the surface, taking it off moves a few points along it.
    assert!(dark > 500 && wrong * 100 < dark, "{dark} dark, {wrong} wrong");
}
