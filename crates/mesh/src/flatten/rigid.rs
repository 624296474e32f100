//! Steps towards the map that is as rigid as possible.

use faer::sparse::Triplet;
use nalgebra::{Matrix2, Vector2};

use super::FlattenError;
use super::triangle::Flattened;
use crate::cholesky::{Entry, Factors};
use crate::{Job, Mesh};

/// Cotangents are held between these, so that the system has a solution on thin and blunt triangles as well.
const WEIGHTS: [f64; 2] = [1e-3, 50.0];
/// At most this many steps.
const MOST_STEPS: usize = 40;
/// Steps end once no point moves by more than this share of the surface's size.
const AT_REST: f64 = 1e-5;

/// Where each vertex lies after turning every triangle to where it fits best and laying the points to suit all of them,
/// again and again.
pub(super) fn relaxed(
    mesh: &Mesh,
    triangles: &[Flattened],
    start: Vec<Vector2<f64>>,
    job: &Job,
) -> Result<Vec<Vector2<f64>>, FlattenError> {
    let weights: Vec<[f64; 3]> =
        triangles.iter().map(|own| own.cotangents().map(|c| c.clamp(WEIGHTS[0], WEIGHTS[1]))).collect();
    let factors = Factors::of(start.len(), entries(mesh, &weights), job)?.ok_or(FlattenError::Needles)?;
    let size = mesh.area_mm2().sqrt();
    let mut now = start;
    for _ in 0..MOST_STEPS {
        job.check()?;
        let mut right = vec![Vector2::zeros(); now.len()];
        for ((corners, own), weights) in mesh.triangles.iter().zip(triangles).zip(&weights) {
            let turn = rotation(own, weights, &corners.map(|v| now[v as usize]));
            for (k, weight) in weights.iter().enumerate() {
                let (i, j) = ((k + 1) % 3, (k + 2) % 3);
                let side = turn * (own.corners[i] - own.corners[j]) * *weight;
                right[corners[i] as usize] += side;
                right[corners[j] as usize] -= side;
            }
        }
        let next = factors.solve(&right).ok_or(FlattenError::Needles)?;
        // The first point is held at the origin; the start may have it elsewhere.
        let moved = now.iter().zip(&next).map(|(a, b)| (a - now[0] - b + next[0]).norm()).fold(0.0, f64::max);
        now = next;
        if moved < AT_REST * size {
            break;
        }
    }
    Ok(now)
}

/// The system of the weights of all sides, with the first point held.
fn entries(mesh: &Mesh, weights: &[[f64; 3]]) -> Vec<Entry> {
    let mut lower = vec![Triplet::new(0, 0, 1.0)];
    for (corners, weights) in mesh.triangles.iter().zip(weights) {
        for (k, weight) in weights.iter().enumerate() {
            let [i, j] = [(k + 1) % 3, (k + 2) % 3].map(|c| corners[c] as usize);
            lower.push(Triplet::new(i, i, *weight));
            lower.push(Triplet::new(j, j, *weight));
            lower.push(Triplet::new(i.max(j), i.min(j), -weight));
        }
    }
    lower
}

/// The rotation that takes a triangle's own sides nearest to those it has now.
fn rotation(own: &Flattened, weights: &[f64; 3], now: &[Vector2<f64>; 3]) -> Matrix2<f64> {
    let (mut along, mut across) = (0.0, 0.0);
    for (k, weight) in weights.iter().enumerate() {
        let (i, j) = ((k + 1) % 3, (k + 2) % 3);
        let (from, to) = (own.corners[i] - own.corners[j], now[i] - now[j]);
        along += weight * from.dot(&to);
        across += weight * from.perp(&to);
    }
    let length = along.hypot(across);
    if length <= f64::MIN_POSITIVE {
        return Matrix2::identity();
    }
    let (c, s) = (along / length, across / length);
    Matrix2::new(c, -s, s, c)
}
