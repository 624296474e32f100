//! Scans with points, parts or a size out of all proportion to a limb are cleaned of them or refused in a sentence.
#![allow(clippy::unwrap_used)]

use mesh::read::{Format, ScanFile};
use mesh::{Job, Mesh};
use nalgebra::{Point3, Vector3};
use scan::{BodySite, CleanSettings, Cleaned, Crop, ScanError, ScanWarning, Side, Unit, clean, inspect};

/// A cone 260 mm long, 32 to 45 mm in radius, open at both ends; about 3.5 mm between points, 7 000 of them.
fn cone() -> Mesh {
    test_shapes::even_frustum([32.0, 45.0], 260.0, 3.53).build()
}

fn file(mesh: Mesh) -> ScanFile {
    ScanFile { mesh, format: Format::StlBinary, texture: None, warnings: Vec::new() }
}

fn run(mesh: Mesh, settings: &CleanSettings) -> Result<Cleaned, ScanError> {
    let scan = file(mesh);
    let (seen, limb) = inspect(&scan, settings, &Job::silent()).unwrap();
    let cleaned = clean(&scan, BodySite::Forearm, Side::Left, settings, &Job::silent());
    assert_eq!(limb.is_some(), cleaned.is_ok(), "{:?}", seen.trouble);
    if let Ok(cleaned) = &cleaned {
        assert_eq!(seen.unit, cleaned.report.unit);
    }
    cleaned
}

/// The cone is whole again: its length, and its area but for a hole or two.
fn assert_is_cone(cleaned: &Cleaned, what: &str) {
    let (low, high) = cleaned.limb.mesh.bounds().unwrap();
    assert!(((high - low).z - 260.0).abs() < 2.0 && (high - low).xy().max() < 92.0, "{what}: {low} to {high}");
    assert!((cleaned.limb.mesh.area_mm2() / cone().area_mm2() - 1.0).abs() < 0.01, "{what}");
    assert_eq!((cleaned.report.unit.unit, cleaned.report.unit.sure), (Unit::Mm, true), "{what}");
}

fn step<'a>(cleaned: &'a Cleaned, name: &str) -> Option<&'a scan::Step> {
    cleaned.report.steps.iter().find(|s| s.name == name)
}

/// Directions that point anywhere, always the same.
fn direction(i: usize) -> Vector3<f32> {
    let i = i as f32;
    Vector3::new((12.9 * i).sin(), (78.2 * i).cos(), (37.7 * i + 1.0).sin()).normalize()
}

#[test]
fn wild_points_pulled_off_the_skin_are_dropped_and_said_however_far_and_many() {
    let cases = [
        (2e3, 40_usize, " mm"),
        (4e4, 1, " m"),
        (4e4, 300, " m"),
        (4e6, 1, "4.0 km"),
        (1e22, 40, "kilometres"),
        (3e38, 1, "kilometres"),
    ];
    for (far, many, said) in cases {
        let mut mesh = cone();
        for i in 0..many {
            mesh.points[(i * 20 + 900) % 6800] = Point3::from(direction(i) * far);
        }
        let cleaned = run(mesh, &CleanSettings::default()).unwrap();
        let step = step(&cleaned, "outliers").unwrap();
        assert_eq!(step.counts["points"], many, "{far}");
        assert!(step.sentence.contains(said), "{}", step.sentence);
        if many < 300 {
            assert_is_cone(&cleaned, &step.sentence);
        }
    }
}

#[test]
fn wild_parts_apart_from_the_skin_are_dropped_and_said() {
    for (far, size) in [(4e4_f32, 1.0_f32), (4e6, 1e3), (1e22, 1e21), (3e38, 1e37)] {
        let mut mesh = cone();
        for i in 0..50 {
            let at = Point3::from(direction(i) * far);
            let first = mesh.points.len() as u32;
            mesh.points.extend((0..3).map(|k| at - direction(i + k + 60) * size));
            mesh.triangles.push([first, first + 1, first + 2]);
        }
        let cleaned = run(mesh, &CleanSettings::default()).unwrap();
        assert!(step(&cleaned, "outliers").unwrap().counts["triangles"] > 40);
        assert_is_cone(&cleaned, &format!("{far} {size}"));
    }
}

#[test]
fn coordinates_that_are_no_numbers_take_only_their_triangles_along() {
    let mut mesh = cone();
    for (i, wrong) in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY].into_iter().enumerate() {
        mesh.points[2000 + 700 * i].y = wrong;
    }
    let cleaned = run(mesh, &CleanSettings::default()).unwrap();
    assert_eq!(step(&cleaned, "bad-triangles").unwrap().counts["degenerate"], 18);
    assert_is_cone(&cleaned, "no numbers");
    let mut mesh = cone();
    mesh.points.iter_mut().for_each(|p| p.x = f32::NAN);
    assert_eq!(
        run(mesh, &CleanSettings::default()).unwrap_err(),
        ScanError::NoSurface { triangles: cone().triangles.len() }
    );
}

#[test]
fn a_picture_is_laid_on_though_points_of_the_file_are_wild() {
    for wild in [4e6, 3e38, f32::NAN, f32::INFINITY] {
        let mut scan = file(cone());
        let uv = vec![[[0.5, 0.5]; 3]; scan.mesh.triangles.len()];
        scan.texture = Some(mesh::read::Texture { width: 1, height: 1, pixels: vec![[10, 200, 30]], uv });
        for i in 0..9 {
            scan.mesh.points[900 + 500 * i].x = wild;
        }
        let cleaned = clean(&scan, BodySite::Forearm, Side::Left, &CleanSettings::default(), &Job::silent()).unwrap();
        let colours = cleaned.limb.mesh.colours.as_ref().unwrap();
        assert!(colours.iter().all(|c| *c == [10, 200, 30]), "{wild}");
        let filled = scan::pen::filled_vertices(&cleaned.limb, &scan.mesh, &Job::silent()).unwrap();
        assert_eq!(filled.len(), colours.len());
    }
}

#[test]
fn a_scan_of_no_limbs_size_is_refused_in_a_sentence_whatever_the_settings() {
    for scale in [1e22_f32, 1e35, 1e-22, 1e-30, 1e6, 1e-7] {
        for unit in [None, Some(Unit::Mm), Some(Unit::M)] {
            for longest_edge_mm in [None, Some(1.5), Some(0.2)] {
                let mut mesh = cone();
                mesh.points.iter_mut().for_each(|p| p.coords *= scale);
                let settings = CleanSettings { unit, longest_edge_mm, ..CleanSettings::default() };
                let refused = run(mesh, &settings).unwrap_err();
                let told = refused.to_string();
                // Numbers this small have no area left in single precision.
                let no_area = matches!(refused, ScanError::NoSurface { .. }) && scale < 1e-20;
                let no_size = matches!(refused, ScanError::OutOfProportion { .. }) && told.contains("no limb does");
                assert!(no_area || no_size, "{scale}: {told}");
                assert!(told.len() < 160, "{told}");
            }
        }
    }
}

#[test]
fn of_two_limbs_far_apart_the_one_that_is_cropped_to_is_kept_and_else_the_first() {
    for (apart, axis) in [(4e4_f32, Vector3::new(1.0, -1.0, 0.5)), (2e3, Vector3::x())] {
        let (mut both, second) = (cone(), cone());
        let first = both.points.len() as u32;
        both.points.extend(second.points.iter().map(|p| p + axis * apart));
        both.triangles.extend(second.triangles.iter().map(|t| t.map(|v| v + first)));
        let one = run(both.clone(), &CleanSettings::default()).unwrap();
        assert_is_cone(&one, "the first");
        assert!(one.limb.placement.scan_from_limb(&Point3::origin()).coords.norm() < 300.0);
        assert!(one.report.warnings.contains(&ScanWarning::FarPart), "{:?}", one.report.warnings);

        let middle = (axis * apart).cast::<f64>();
        let crop = Crop::Box { low: middle.add_scalar(-300.0).into(), high: middle.add_scalar(300.0).into() };
        let other = run(both, &CleanSettings { crop: vec![crop], ..CleanSettings::default() }).unwrap();
        assert_is_cone(&other, "the second");
        assert!((other.limb.placement.scan_from_limb(&Point3::origin()).coords - middle).norm() < 300.0);
    }
}

#[test]
fn what_belongs_to_a_scan_is_no_outlier() {
    // A fingertip sampled at a tenth of a millimetre at the end of a coarse arm.
    let mut mesh = cone();
    let first = mesh.points.len() as u32;
    for i in 0..100 * 100_u32 {
        mesh.points.push(Point3::new(0.1 * (i % 100) as f32, 0.1 * (i / 100) as f32, (0.02 * i as f32).sin() * 0.1));
    }
    for i in (0..99 * 100).filter(|i| i % 100 < 99) {
        let a = first + i;
        mesh.triangles.extend([[a, a + 1, a + 101], [a, a + 101, a + 100]]);
    }
    let cleaned = run(mesh, &CleanSettings { drop_small_pieces: false, ..CleanSettings::default() }).unwrap();
    assert_eq!(step(&cleaned, "outliers"), None);
    let demos = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans");
    for name in ["forearm-07.ply", "ribs-04.ply", "shin-23.obj", "ankle-31.ply"] {
        let scan = mesh::read::read_file(&demos.join(name), &Job::silent()).unwrap();
        let cleaned = clean(&scan, BodySite::Other, Side::Left, &CleanSettings::default(), &Job::silent()).unwrap();
        assert_eq!(step(&cleaned, "outliers"), None, "{name}");
    }
}
