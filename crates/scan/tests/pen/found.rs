//! What the search finds on a synthetic skin.

use mesh::Job;
use nalgebra::Point3;
use scan::pen::{PenFinding, PenLine, PenSettings, find};

use crate::skin::{Place, Skin, place_of};

pub fn search(skin: &Skin) -> PenFinding {
    find(&skin.build(), &PenSettings::default(), &Job::silent()).unwrap()
}

/// The closed line of a skin that has one.
pub fn closed(name: &str, skin: &Skin) -> PenLine {
    match search(skin) {
        PenFinding::Closed(line) => line,
        PenFinding::Open { why, .. } => panic!("{name}: {why}"),
        PenFinding::None { why } => panic!("{name}: {why}"),
    }
}

/// The points of a line on the unrolled skin, on the turn that lies nearest.
pub fn places(line: &[Point3<f32>], near: f32) -> Vec<Place> {
    line.iter().map(|p| place_of(p, near)).collect()
}
