//! The bony points of the demo scans, whose places the generator of the scans gives (`demo-scans/truth.json`).
#![allow(clippy::unwrap_used)] // Clippy takes helpers of tests for ordinary code.

use std::path::PathBuf;

use mesh::geodesic::{SurfaceLine, distance_to_lines};
use mesh::{Job, Surface};
use nalgebra::Point3;
use scan::{BodySite, Side};
use serde::Deserialize;
use zone::landmarks::bony_points;

#[derive(Deserialize)]
struct Truth {
    file: String,
    site: BodySite,
    side: Side,
    bony_points: Vec<Bony>,
}

#[derive(Deserialize)]
struct Bony {
    name: String,
    at: [f64; 3],
    radius_mm: f64,
    height_mm: f64,
}

/// In the hollow where the wrist widens to the hand it stands out by less than 1 mm, though the swell is 2.4 mm high.
const IN_A_HOLLOW: (&str, &str) = ("wrist-12.ply", "tip of the radius");

#[test]
fn those_of_the_demo_scans_are_found_and_few_others() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans");
    let truths: Vec<Truth> =
        serde_json::from_str(&std::fs::read_to_string(folder.join("truth.json")).unwrap()).unwrap();
    let job = Job::silent();
    let mut whole = 0;
    for truth in truths {
        let file = mesh::read::read_file(&folder.join(&truth.file), &job).unwrap();
        let limb = scan::clean(&file, truth.site, truth.side, &Default::default(), &job).unwrap().limb;
        let (placement, skin) = (limb.placement, Surface::new(limb.mesh));
        let found = bony_points(&skin, None, &job).unwrap();
        let place = |bony: &Bony| placement.limb_from_scan(&Point3::from(bony.at)).cast::<f32>();
        let ends: Vec<_> = SurfaceLine::borders(&skin).into_iter().filter(|end| end.length_mm() > 60.0).collect();
        let from_end = distance_to_lines(&skin, &ends, 30.0, &job).unwrap();
        for bony in &truth.bony_points {
            let at = place(bony);
            let end = skin.interpolate(&from_end, &skin.nearest(&at, None).unwrap());
            let near = found.iter().map(|p| (p.at_mm - at).norm()).fold(f32::INFINITY, f32::min);
            // Joints of toes have no swell of their own and may or may not be found.
            if bony.height_mm > 0.0 && end > 14.0 && (truth.file.as_str(), bony.name.as_str()) != IN_A_HOLLOW {
                whole += 1;
                assert!(near < 6.0, "{}: {} is {near} mm from the nearest", truth.file, bony.name);
            }
        }
        let belongs = |p: &Point3<f32>| {
            truth.bony_points.iter().any(|bony| f64::from((p - place(bony)).norm()) < bony.radius_mm + 5.0)
        };
        let others = found.iter().filter(|p| !belongs(&p.at_mm)).count();
        println!("{}: {} found, {others} of them not from the generator", truth.file, found.len());
        assert!(others <= 2, "{}: {found:?}", truth.file);
    }
    assert_eq!(whole, 18);
}
