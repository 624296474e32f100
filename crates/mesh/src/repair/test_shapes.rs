//! Shapes of known size for the tests of this folder.

use std::collections::BTreeMap;

use nalgebra::Point3;
use rand_pcg::Pcg64;
use rand_pcg::rand_core::{Rng, SeedableRng};

use crate::Mesh;

/// Uniform in (0, 1).
pub(super) fn uniform(random: &mut Pcg64) -> f64 {
    ((random.next_u64() >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
}

/// Standard normal by Box and Muller.
pub(super) fn gauss(random: &mut Pcg64) -> f64 {
    (-2.0 * uniform(random).ln()).sqrt() * (std::f64::consts::TAU * uniform(random)).cos()
}

/// A sphere from an icosahedron halved `times` times.
pub(super) fn icosphere(radius: f64, times: usize) -> Mesh {
    let g = f64::midpoint(1.0, 5_f64.sqrt());
    let mut points: Vec<Point3<f64>> = [(-1., g), (1., g), (-1., -g), (1., -g)]
        .iter()
        .flat_map(|(a, b)| [Point3::new(*a, *b, 0.0), Point3::new(0.0, *a, *b), Point3::new(*b, 0.0, *a)])
        .collect();
    // Sides of the icosahedron are 2 long; its faces are the triples of near neighbours.
    let near = |a: &Point3<f64>, b: &Point3<f64>| ((a - b).norm() - 2.0).abs() < 1e-9;
    let mut triangles = Vec::new();
    for i in 0..12 {
        for j in i + 1..12 {
            for k in j + 1..12 {
                let (a, b, c) = (points[i], points[j], points[k]);
                if near(&a, &b) && near(&b, &c) && near(&c, &a) {
                    let out = (b - a).cross(&(c - a)).dot(&a.coords) > 0.0;
                    triangles.push(if out { [i, j, k] } else { [i, k, j] });
                }
            }
        }
    }
    for _ in 0..times {
        let mut middles = BTreeMap::new();
        let mut finer = Vec::new();
        for [a, b, c] in triangles {
            let mut middle = |a: usize, b: usize| {
                *middles.entry((a.min(b), a.max(b))).or_insert_with(|| {
                    points.push(nalgebra::center(&points[a], &points[b]));
                    points.len() - 1
                })
            };
            let (x, y, z) = (middle(a, b), middle(b, c), middle(c, a));
            finer.extend([[a, x, z], [x, b, y], [z, y, c], [x, y, z]]);
        }
        triangles = finer;
        for p in &mut points {
            p.coords *= 1.0 / p.coords.norm();
        }
    }
    let points = points.iter().map(|p| Point3::from(p.coords.normalize() * radius).cast()).collect();
    Mesh::new(points, triangles.into_iter().map(|t| t.map(|v| v as u32)).collect())
}

/// An open tube along z, its middle at the origin, of nearly equilateral triangles.
pub(super) fn tube(radius: f32, length: f32, edge: f32) -> Mesh {
    let n = (std::f32::consts::TAU * radius / edge).round() as u32;
    let rows = (length / (edge * 0.866)).round() as u32 + 1;
    let points = (0..rows * n)
        .map(|i| {
            let (row, at) = (i / n, i % n);
            let a = std::f32::consts::TAU * (at as f32 + 0.5 * (row % 2) as f32) / n as f32;
            Point3::new(radius * a.cos(), radius * a.sin(), length * (row as f32 / (rows - 1) as f32 - 0.5))
        })
        .collect();
    let mut triangles = Vec::new();
    for row in 0..rows - 1 {
        for at in 0..n {
            let next = (at + 1) % n;
            let (a, b, c, d) = (row * n + at, row * n + next, (row + 1) * n + at, (row + 1) * n + next);
            if row % 2 == 0 {
                triangles.extend([[a, b, c], [b, d, c]])
            } else {
                triangles.extend([[a, d, c], [a, b, d]])
            }
        }
    }
    Mesh::new(points, triangles)
}

/// Moves each point along its normal by Gaussian noise.
pub(super) fn jitter_normals(mesh: &mut Mesh, sigma: f64, seed: u64) {
    let mut random = Pcg64::seed_from_u64(seed);
    let normals = mesh.vertex_normals();
    for (p, n) in mesh.points.iter_mut().zip(&normals) {
        *p += n * (sigma * gauss(&mut random)) as f32;
    }
}
