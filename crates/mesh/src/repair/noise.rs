//! Noise estimation.

use nalgebra::{Matrix3, SMatrix, SVector, Vector3};
use rayon::prelude::*;

use crate::{Adjacency, Cancelled, Job, Mesh, NONE};

/// Points at which the noise is estimated, evenly spread.
const SAMPLES: usize = 4000;
/// A point with more triangles than this round it or round a neighbour is skipped.
const MOST_AROUND: usize = 60;

/// Standard deviation of the points about the smooth surface, mm, along the normal.
///
/// At evenly spread points a quadratic is fitted to all points up to two edges away, as heights over their plane of
/// least spread; what it leaves, corrected for its six terms, is the local noise. Returned is what a fifth of the
/// surface stays below, scaled to the whole, so that ridges, creases and coarse triangles on curved parts do not count;
/// 0 where no point has enough neighbours.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub fn noise_mm(mesh: &Mesh, adjacency: &Adjacency, job: &Job) -> Result<f64, Cancelled> {
    let step = (mesh.points.len() / SAMPLES).max(1);
    let samples = mesh.points.len().div_ceil(step);
    let mut found: Vec<f64> = (0..samples)
        .into_par_iter()
        .map(|sample| {
            job.check()?;
            Ok(local_noise(mesh, adjacency, (sample * step) as u32))
        })
        .filter_map(Result::transpose)
        .collect::<Result<_, Cancelled>>()?;
    if found.is_empty() {
        return Ok(0.0);
    }
    let fifth = found.len() / 5;
    // Quantiles of χ²ₖ/k after Wilson and Hilferty 1931: (1 − 2/9k + z √(2/9k))³; two rings of six leave k = 13.
    let w = 2.0 / (9.0 * 13.0_f64);
    Ok(*found.select_nth_unstable_by(fifth, f64::total_cmp).1 / (1.0 - w - 0.8416 * w.sqrt()).powf(1.5))
}

fn local_noise(mesh: &Mesh, adjacency: &Adjacency, v: u32) -> Option<f64> {
    let mut near: Vec<u32> = Vec::with_capacity(48);
    if adjacency.triangles_around(v).len() > MOST_AROUND {
        return None;
    }
    for t in adjacency.triangles_around(v) {
        for w in mesh.triangles[*t as usize] {
            if adjacency.triangles_around(w).len() > MOST_AROUND {
                return None;
            }
            for u in adjacency.triangles_around(w) {
                if adjacency.neighbours[*u as usize].contains(&NONE) {
                    return None;
                }
                near.extend(mesh.triangles[*u as usize]);
            }
        }
    }
    near.sort_unstable();
    near.dedup();
    if near.len() < 12 || near.len() > 60 {
        return None;
    }
    let middle =
        near.iter().map(|w| mesh.points[*w as usize].coords.cast::<f64>()).sum::<Vector3<f64>>() / near.len() as f64;
    let local: Vec<Vector3<f64>> =
        near.iter().map(|w| mesh.points[*w as usize].coords.cast::<f64>() - middle).collect();
    let spread: Matrix3<f64> = local.iter().map(|p| p * p.transpose()).sum();
    let axes = spread.symmetric_eigen();
    let mut order = [0, 1, 2];
    order.sort_by(|a, b| axes.eigenvalues[*b].total_cmp(&axes.eigenvalues[*a]));
    let [x, y, z] = order.map(|i| axes.eigenvectors.column(i).into_owned());
    let size = axes.eigenvalues[order[0]].max(1e-300).sqrt();
    let terms = |p: &Vector3<f64>| {
        let (a, b) = (p.dot(&x) / size, p.dot(&y) / size);
        SVector::<f64, 6>::new(1.0, a, b, a * a, a * b, b * b)
    };
    let (mut m, mut r) = (SMatrix::<f64, 6, 6>::zeros(), SVector::<f64, 6>::zeros());
    for p in &local {
        let q = terms(p);
        m += q * q.transpose();
        r += q * p.dot(&z);
    }
    let fit = m.cholesky()?.solve(&r);
    let left: f64 = local.iter().map(|p| (p.dot(&z) - fit.dot(&terms(p))).powi(2)).sum();
    Some((left / (near.len() - 6) as f64).sqrt())
}
