//! Skin normals averaged over a few millimetres, so that scanner noise does not turn them.

use mesh::{Cancelled, Job, Surface};
use nalgebra::{Vector3, Vector4};
use rayon::prelude::*;

use super::near::Near;

/// Reach of the averaging, mm.
const REACH_MM: f32 = 4.0;
/// Most rounds of averaging.
const MOST_ROUNDS: usize = 40;

/// Vertex normals averaged over about [`REACH_MM`] near the zone; elsewhere those of the skin.
///
/// # Errors
/// [`Cancelled`] on request; checked in each round.
pub(super) fn smooth_normals(skin: &Surface, near: &Near, job: &Job) -> Result<Vec<Vector3<f32>>, Cancelled> {
    averaged(skin.vertex_normals().to_vec(), near, job)
}

/// These normals averaged in the same way.
///
/// # Errors
/// As [`smooth_normals`].
pub(super) fn averaged(mut normals: Vec<Vector3<f32>>, near: &Near, job: &Job) -> Result<Vec<Vector3<f32>>, Cancelled> {
    // Each round spreads by about one edge, so rounds grow with the square of the reach.
    let wanted = (f64::from(REACH_MM) / near.mean_edge_mm.max(1e-3)).powi(2) as usize;
    let mut now: Vec<Vector4<f32>> = near.vertices.iter().map(|v| normals[*v as usize].push(0.0)).collect();
    let mut next = now.clone();
    for _ in 0..wanted.clamp(1, MOST_ROUNDS) {
        job.check()?;
        next[..near.count].par_iter_mut().with_min_len(4096).enumerate().for_each(|(i, to)| {
            let others = near.around(i);
            *to = others.iter().fold(now[i], |sum, w| sum + now[*w as usize]) / (others.len() + 1) as f32;
        });
        std::mem::swap(&mut now, &mut next);
    }
    for (v, normal) in near.vertices.iter().zip(now).take(near.count) {
        if let Some(unit) = normal.xyz().try_normalize(1e-6) {
            normals[*v as usize] = unit;
        }
    }
    Ok(normals)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample_skins::{Rough, tube};

    #[test]
    fn noise_in_the_normals_is_averaged_out() {
        let skin = tube(40.0, 80.0, 1.0, Rough { uneven: 0.0, noise_mm: 0.1 });
        let inside = vec![10.0; skin.mesh().points.len()];
        let smooth = smooth_normals(&skin, &Near::find(&skin, &inside), &Job::silent()).unwrap();
        let off = |normals: &[Vector3<f32>]| {
            let inner = skin.mesh().points.iter().zip(normals).filter(|(p, _)| p.z.abs() < 30.0);
            let turned = inner.map(|(p, n)| n.angle(&Vector3::new(p.x, p.y, 0.0)).powi(2));
            let (sum, count) = turned.fold((0.0, 0.0), |(sum, count), a| (sum + a, count + 1.0));
            (sum / count).sqrt()
        };
        let (before, after) = (off(skin.vertex_normals()), off(&smooth));
        assert!(after < 0.25 * before, "{before} to {after} radians");
    }

    #[test]
    fn averaging_stops_on_request() {
        let skin = tube(20.0, 20.0, 2.0, Rough::default());
        let job = Job::silent();
        job.cancel();
        assert_eq!(
            smooth_normals(&skin, &Near::find(&skin, &vec![1.0; skin.mesh().points.len()]), &job),
            Err(Cancelled)
        );
    }
}
