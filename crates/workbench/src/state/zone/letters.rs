//! Where the letters of the regions point, found in the background.

use std::sync::Arc;

use engine::LimbOnAxes;
use mesh::{Job, Surface};
use nalgebra::{Point3, Vector3};
use session::{Outcome, Task};
use zone::Sketch;

/// Most spots of a region that bear its letter.
const SPOTS: usize = 12;

/// Places of a spot that its letter may point at.
const PLACES: usize = 8;

/// A spot of a region: places all over it with their normals, so that its letter can point at one wherever it is seen
/// from.
pub type Spot = Vec<(Point3<f32>, Vector3<f32>)>;

/// Where the letters point, found in the background for what is marked.
#[derive(Debug, Default)]
pub struct Letters {
    /// Serial of the sketch that they were last asked for.
    asked: u64,
    finding: Task<Vec<Vec<Spot>>>,
    /// The spots of each region, the biggest first.
    pub spots: Vec<Vec<Spot>>,
}

impl Letters {
    /// Takes what was found, and searches again when the sketch is another.
    pub fn keep(&mut self, serial: u64, limb: &Arc<LimbOnAxes>, sketch: &Arc<Sketch>) {
        if let Some(Outcome::Done(found)) = self.finding.take() {
            self.spots = found;
        }
        // A search that runs may finish first, so that letters follow a long stroke.
        if self.asked != serial && !self.finding.is_running() {
            self.asked = serial;
            let (limb, sketch) = (Arc::clone(limb), Arc::clone(sketch));
            self.finding
                .start(move |job| sketch.regions_mm.iter().map(|depths| spots(&limb.skin, depths, job)).collect());
        }
    }
}

/// The spots of a region with their places.
fn spots(skin: &Surface, depths_mm: &[f32], job: &Job) -> Vec<Spot> {
    // A search that was stopped finds nothing.
    let found = zone::connected_components(skin, depths_mm, job).unwrap_or_default();
    found.iter().take(SPOTS).map(|spot| places(skin, depths_mm, spot)).collect()
}

/// Places all over a spot: its deepest first, then each time the one farthest from those before it.
fn places(skin: &Surface, depths_mm: &[f32], spot: &[u32]) -> Spot {
    let (points, normals) = (&skin.mesh().points, skin.vertex_normals());
    let depth = |v: u32| depths_mm[v as usize];
    let Some(first) = spot.iter().copied().max_by(|a, b| depth(*a).total_cmp(&depth(*b))) else { return Vec::new() };
    // Well inside, so that the foot of the letter's line lies on the colour.
    let inside: Vec<usize> = spot.iter().filter(|v| depth(**v) >= 0.4 * depth(first)).map(|v| *v as usize).collect();
    let mut away: Vec<f32> = vec![f32::INFINITY; inside.len()];
    let (mut found, mut next) = (Vec::new(), first as usize);
    loop {
        found.push((points[next], normals[next]));
        for (away, v) in away.iter_mut().zip(&inside) {
            *away = away.min((points[*v] - points[next]).norm());
        }
        let farthest = away.iter().zip(&inside).max_by(|a, b| a.0.total_cmp(b.0));
        match farthest {
            Some((away, v)) if found.len() < PLACES && *away > 5.0 => next = *v,
            _ => return found,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_spot_has_a_letter_that_points_into_it_from_wherever_it_is_seen() {
        let points: Vec<_> = (0..81 * 41).map(|i| Point3::new((i % 81) as f32, (i / 81) as f32, 0.0)).collect();
        let triangles = (0..80 * 40)
            .flat_map(|i| {
                let a = i / 80 * 81 + i % 80;
                [[a, a + 1, a + 82], [a, a + 82, a + 81]]
            })
            .collect();
        let (large, small) = (Point3::new(20.0, 22.0, 0.0), Point3::new(62.0, 18.0, 0.0));
        let of = |middle: Point3<f32>, radius_mm: f32, p: &Point3<f32>| radius_mm - (p - middle).norm();
        let depths: Vec<f32> = points.iter().map(|p| of(large, 15.0, p).max(of(small, 7.0, p))).collect();
        let skin = Surface::new(mesh::Mesh::new(points, triangles));
        let found = spots(&skin, &depths, &Job::silent());
        assert_eq!(found.len(), 2);
        for (spot, (middle, radius_mm)) in found.iter().zip([(large, 15.0), (small, 7.0)]) {
            assert_eq!(spot[0].0, middle, "the biggest spot first, and its deepest place");
            assert!(spot.len() <= PLACES);
            assert!(spot.iter().all(|(p, _)| (p - middle).norm() <= 0.6 * radius_mm), "inside");
        }
        assert!(spots(&skin, &vec![-1.0; depths.len()], &Job::silent()).is_empty(), "nothing is marked");
    }
}
