//! A foot stands on its sole, leg end up, although it is longer than the leg that was scanned with it.
#![allow(clippy::unwrap_used)]

use std::path::Path;

use mesh::{Adjacency, Job};
use scan::{BodySite, CleanSettings, Side, clean};

#[test]
fn the_demo_foot_has_its_leg_up_and_its_length_across() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans/ankle-31.ply");
    let file = mesh::read::read_file(&path, &Job::silent()).unwrap();
    let limb = clean(&file, BodySite::Ankle, Side::Left, &CleanSettings::default(), &Job::silent()).unwrap().limb;
    let (low, high) = limb.mesh.bounds().unwrap();
    let rings = Adjacency::new(&limb.mesh).boundary_loops(&limb.mesh);
    let end = rings.iter().max_by_key(|r| r.len()).unwrap();
    let height = end.iter().map(|v| limb.mesh.points[*v as usize].z).sum::<f32>() / end.len() as f32;
    assert!(height > low.z + 0.85 * (high.z - low.z), "the cut end is at {height} of {} to {}", low.z, high.z);
    // ANSUR II, women's foot length, 5th to 95th percentile: 226 to 268 mm (Gordon et al. 2014).
    let across = (high.x - low.x).max(high.y - low.y);
    assert!((215.0..280.0).contains(&across), "{across} mm");
}
