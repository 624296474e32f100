//! Evens out the small places at which a solid is not sound: a crease, a flap or a sliver of half a millimetre where
//! steep sides of a mark, a rib and an opening meet on a tight bend.

use mesh::{Adjacency, Cancelled, Job, Mesh, SpatialHash};
use nalgebra::{Point3, Vector3};

/// Points within this distance of a place are moved, the nearer the more, and farther at each further try, mm.
const REACH_MM: [f32; 2] = [1.8, 0.5];
/// Rounds of moving them, and how many more at each further try.
const ROUNDS: [usize; 2] = [8, 6];
/// Each time a point goes this part of the way to the middle of its neighbours.
const STEP: f32 = 0.5;

/// The mesh with the points near these places drawn to the middle of their neighbours, as in Laplacian smoothing;
/// `tries` counts from 1.
///
/// # Errors
/// [`Cancelled`] on request.
pub(super) fn eased(mesh: &Mesh, places: &[Point3<f32>], tries: usize, job: &Job) -> Result<Mesh, Cancelled> {
    let further = tries.saturating_sub(1);
    let reach_mm = REACH_MM[0] + REACH_MM[1] * further as f32;
    let hash = SpatialHash::of(reach_mm, places.iter().copied());
    let adjacency = Adjacency::build(mesh, job)?;
    let near: Vec<(usize, f32)> = mesh
        .points
        .iter()
        .enumerate()
        .filter_map(|(v, p)| {
            let away = hash.within(p, reach_mm).into_iter().map(|n| (places[n] - p).norm()).fold(reach_mm, f32::min);
            (away < reach_mm).then(|| (v, STEP * (1.0 - (away / reach_mm).powi(2))))
        })
        .collect();
    let mut points = mesh.points.clone();
    for _ in 0..ROUNDS[0] + ROUNDS[1] * further {
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
    use mesh::sound::{SoundLimits, sound_and_faulty};

    use super::*;

    /// A ball of 10 mm with a needle drawn out of it, and with one pressed in.
    #[test]
    fn a_needle_is_evened_out_and_the_rest_stays() {
        for height in [3.0, -3.0] {
            let mut ball: Mesh = test_shapes::icosphere(10.0, 5).build();
            let tip = ball.points[0];
            ball.points[0] = tip * (1.0 + height / 10.0);
            let (_, places) = sound_and_faulty(&ball, &SoundLimits::default(), &Job::silent()).unwrap();
            assert!(!places.is_empty());
            let even = eased(&ball, &places, 1, &Job::silent()).unwrap();
            assert!((even.points[0].coords.norm() - 10.0).abs() < 0.8, "{}", even.points[0]);
            assert_eq!(even.triangles, ball.triangles);
            for (p, q) in ball.points.iter().zip(&even.points) {
                let near = places.iter().any(|place| (place - p).norm() < REACH_MM[0]);
                assert!(near || p == q);
            }
        }
    }
}
