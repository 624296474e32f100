//! Evens out the small places at which a solid is not sound: a crease, a flap or a sliver of half a millimetre where
//! steep sides of a mark, a rib and an opening meet on a tight bend.

use mesh::sound::SoundReport;
use mesh::{Adjacency, Cancelled, Job, Mesh, SpatialHash};
use nalgebra::{Point3, Vector3};

/// Points within this distance of a place are moved, the nearer the more, mm.
const REACH_MM: f32 = 1.8;
/// Rounds of moving them.
const ROUNDS: usize = 8;
/// Each time a point goes this part of the way to the middle of its neighbours.
const STEP: f32 = 0.5;

/// The places where a solid is not sound.
pub(super) fn faulty_places(report: &SoundReport) -> Vec<Point3<f32>> {
    let walls = report.walls.places.iter().map(|place| place.at);
    let sharp = report.sharp.length_mm > report.limits.sharp_mm + report.limits.asked_sharp_mm;
    let edges = report.folds.places.iter().chain(report.sharp.places.iter().filter(|_| sharp)).map(|place| place.at);
    walls.chain(edges).chain(report.spikes.places.iter().map(|place| place.at)).collect()
}

/// The mesh with the points near these places drawn to the middle of their neighbours, as in Laplacian smoothing.
///
/// # Errors
/// [`Cancelled`] on request.
pub(super) fn eased(mesh: &Mesh, places: &[Point3<f32>], job: &Job) -> Result<Mesh, Cancelled> {
    let hash = SpatialHash::of(REACH_MM, places.iter().copied());
    let adjacency = Adjacency::build(mesh, job)?;
    let near: Vec<(usize, f32)> = mesh
        .points
        .iter()
        .enumerate()
        .filter_map(|(v, p)| {
            let away = hash.within(p, REACH_MM).into_iter().map(|n| (places[n] - p).norm()).fold(REACH_MM, f32::min);
            (away < REACH_MM).then(|| (v, STEP * (1.0 - (away / REACH_MM).powi(2))))
        })
        .collect();
    let mut points = mesh.points.clone();
    for _ in 0..ROUNDS {
        job.check()?;
        let moved: Vec<Point3<f32>> = near
            .iter()
            .map(|(v, share)| {
                let around = adjacency.triangles_around(*v as u32);
                let others = around.iter().flat_map(|t| mesh.triangles[*t as usize]).filter(|w| *w as usize != *v);
                let (sum, count) = others
                    .fold((Vector3::zeros(), 0.0), |(sum, count), w| (sum + points[w as usize].coords, count + 1.0));
                if count > 0.0 { points[*v] + (Point3::from(sum / count) - points[*v]) * *share } else { points[*v] }
            })
            .collect();
        for ((v, _), p) in near.iter().zip(moved) {
            points[*v] = p;
        }
    }
    Ok(Mesh { points, ..mesh.clone() })
}

#[cfg(test)]
mod tests {
    use mesh::sound::{SoundLimits, sound};

    use super::*;

    /// A ball of 10 mm with a needle drawn out of it, and with one pressed in.
    #[test]
    fn a_needle_is_evened_out_and_the_rest_stays() {
        for height in [3.0, -3.0] {
            let mut ball: Mesh = test_shapes::icosphere(10.0, 5).build();
            let tip = ball.points[0];
            ball.points[0] = tip * (1.0 + height / 10.0);
            let report = sound(&ball, &SoundLimits::default(), &Job::silent()).unwrap();
            let places = faulty_places(&report);
            assert!(!places.is_empty());
            let even = eased(&ball, &places, &Job::silent()).unwrap();
            assert!((even.points[0].coords.norm() - 10.0).abs() < 0.8, "{}", even.points[0]);
            assert_eq!(even.triangles, ball.triangles);
            for (p, q) in ball.points.iter().zip(&even.points) {
                let near = places.iter().any(|place| (place - p).norm() < REACH_MM);
                assert!(near || p == q);
            }
        }
    }
}
