//! Splitting long edges must not fill the memory, whatever the triangles look like.
#![allow(clippy::unwrap_used)]

use mesh::read::{Format, ScanFile};
use mesh::{Job, Mesh};
use peak_alloc::PeakAlloc;
use scan::{BodySite, CleanSettings, ScanError, Side, Unit, clean, inspect};
use test_shapes::{cuboid, tube};

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

fn file(mesh: Mesh) -> ScanFile {
    ScanFile { mesh, format: Format::StlBinary, texture: None, warnings: Vec::new() }
}

/// A closed box of twelve triangles.
fn cube(side: f32) -> Mesh {
    cuboid([side; 3]).build()
}

/// A tube that is all long thin triangles from end to end.
fn reeds(around: u32, length: f32) -> Mesh {
    tube(1.0, [0.0, length.into()], around, 2).mapped(|[x, y, z]| [45.0 * x, 40.0 * y, z]).build()
}

/// A single test, as memory is measured for the whole program.
#[test]
fn coarse_and_long_thin_triangles_stay_within_300_mb_and_a_million_triangles() {
    let cases = [
        ("a box of a metre, mm", cube(1000.0), 1.0),
        ("a box of a metre, m", cube(1.0), 1000.0),
        ("a tube of 400 reeds", reeds(200, 1150.0), 1.0),
        ("a tube of 8000 reeds", reeds(4000, 1150.0), 1.0),
        ("a tube of 40000 reeds", reeds(20_000, 700.0), 1.0),
    ];
    for (name, mesh, unit_mm) in cases {
        let (triangles, area_mm2) = (mesh.triangles.len(), mesh.area_mm2() * unit_mm * unit_mm);
        let scan = file(mesh);
        MEMORY.reset_peak_usage();
        let before = MEMORY.current_usage_as_mb();
        let (report, limb) = inspect(&scan, &CleanSettings::default(), &Job::silent()).unwrap();
        let megabytes = MEMORY.peak_usage_as_mb() - before;
        let limb = limb.unwrap_or_else(|| panic!("{name}: {:?}", report.trouble));
        let cleaned = limb.mesh.triangles.len();
        println!("{name}: {triangles} triangles, cleaned {cleaned}, {megabytes:.0} MB at most");
        assert_eq!(report.unit.unit.mm(), unit_mm, "{name}");
        assert!(cleaned > triangles, "{name}: nothing was split");
        assert!(cleaned < 1_000_000, "{name}: {cleaned} triangles");
        assert!(megabytes < 300.0, "{name}: {megabytes:.0} MB");
        assert!((limb.mesh.area_mm2() / area_mm2 - 1.0).abs() < 0.2, "{name}: {} mm²", limb.mesh.area_mm2());
        let said = report.cleaning.unwrap();
        let refine = said.steps.iter().find(|step| step.name == "refine").unwrap();
        assert!(refine.sentence.contains("For 1.5 mm the surface is too large"), "{name}: {}", refine.sentence);
    }
    // Asked for by the user it is refused, not made.
    let fine = CleanSettings { longest_edge_mm: Some(0.6), unit: Some(Unit::Mm), ..CleanSettings::default() };
    let refused = clean(&file(reeds(4000, 1150.0)), BodySite::Other, Side::Unknown, &fine, &Job::silent()).unwrap_err();
    assert!(matches!(refused, ScanError::TooFine { .. }), "{refused}");
}
