//! Skins with closed forms, for tests: tubes, cones and balls with regular or uneven triangles and noise.

use std::f32::consts::PI;

use mesh::{Mesh, Surface};
use nalgebra::{Point3, Vector3};
use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;
use zone::{Region, Zone};

/// How rough a sample skin is.
#[derive(Debug, Clone, Copy, Default)]
pub struct Rough {
    /// Vertices are moved along the skin by up to this part of the spacing.
    pub uneven: f32,
    /// Standard deviation of the noise along the normal, mm.
    pub noise_mm: f32,
}

struct Dice(Pcg32);

impl Dice {
    fn unit(&mut self) -> f32 {
        self.0.next_u32() as f32 / u32::MAX as f32
    }

    fn normal(&mut self) -> f32 {
        (0..12).map(|_| self.unit()).sum::<f32>() - 6.0
    }
}

/// A grid of `columns` round by `rows` up, closed round, mapped by `place(column, row)` to a point and its normal.
fn grid(columns: usize, rows: usize, rough: Rough, place: impl Fn(f32, f32) -> (Point3<f32>, Vector3<f32>)) -> Surface {
    let mut dice = Dice(Pcg32::new(7, 11));
    let mut points = Vec::new();
    for j in 0..rows {
        for i in 0..columns {
            let shift = 0.5 * (j % 2) as f32;
            let inner = if j == 0 || j + 1 == rows { 0.0 } else { rough.uneven };
            let (di, dj) = ((dice.unit() - 0.5) * 2.0 * rough.uneven, (dice.unit() - 0.5) * 2.0 * inner);
            let (point, normal) = place(i as f32 + shift + di, j as f32 + dj);
            points.push(point + normal * (dice.normal() * rough.noise_mm));
        }
    }
    let mut triangles = Vec::new();
    for j in 0..rows - 1 {
        for i in 0..columns {
            let next = (i + 1) % columns;
            let at = |i: usize, j: usize| (j * columns + i) as u32;
            let (a, b, c, d) = (at(i, j), at(next, j), at(i, j + 1), at(next, j + 1));
            if j % 2 == 0 {
                triangles.extend([[a, b, c], [b, d, c]]);
            } else {
                triangles.extend([[a, b, d], [a, d, c]]);
            }
        }
    }
    Surface::new(Mesh::new(points, triangles))
}

/// A tube about the z axis from −length/2 to length/2.
pub fn tube(radius: f32, length: f32, edge: f32, rough: Rough) -> Surface {
    cone(radius, radius, length, edge, rough)
}

/// A cone frustum about the z axis, `low` wide at −length/2 and `high` at length/2 (radii).
pub fn cone(low: f32, high: f32, length: f32, edge: f32, rough: Rough) -> Surface {
    let columns = (2.0 * PI * low.max(high) / edge).ceil() as usize;
    let rows = (length / (edge * 0.866)).ceil() as usize + 1;
    let step = length / (rows - 1) as f32;
    grid(columns, rows, rough, move |i, j| {
        let (sin, cos) = (i / columns as f32 * 2.0 * PI).sin_cos();
        let z = j * step - 0.5 * length;
        let radius = low + (high - low) * (z / length + 0.5);
        let normal = Vector3::new(cos, sin, (low - high) / length).normalize();
        (Point3::new(radius * cos, radius * sin, z), normal)
    })
}

/// A ball about the origin without its polar caps.
pub fn ball(radius: f32, edge: f32, rough: Rough) -> Surface {
    let columns = (2.0 * PI * radius / edge).ceil() as usize;
    let half = 1.2_f32;
    let rows = (2.0 * half * radius / (edge * 0.866)).ceil() as usize;
    grid(columns, rows, rough, move |i, j| {
        let (sin, cos) = (i / columns as f32 * 2.0 * PI).sin_cos();
        let (up, out) = ((j / (rows - 1) as f32 * 2.0 - 1.0) * half).sin_cos();
        let normal = Vector3::new(cos * out, sin * out, up);
        (Point3::from(normal * radius), normal)
    })
}

/// A zone on a tube: a box of `around_mm` by `along_mm` in the unrolled tube, in the middle of the +x side.
/// Distances are exact but for the zone's outer corners, where they are those to the nearer side.
pub fn tube_zone(skin: &Surface, radius: f32, around_mm: f32, along_mm: f32) -> Zone {
    let half = [0.5 * around_mm, 0.5 * along_mm];
    let distance_mm = skin
        .mesh()
        .points
        .iter()
        .map(|p| (half[0] - (radius * p.y.atan2(p.x)).abs()).min(half[1] - p.z.abs()))
        .collect();
    let place = |s: f32, z: f32| Point3::new(radius * (s / radius).cos(), radius * (s / radius).sin(), z);
    let corners = [[-half[0], -half[1]], [half[0], -half[1]], [half[0], half[1]], [-half[0], half[1]]];
    let mut edge = Vec::new();
    for (k, a) in corners.iter().enumerate() {
        let b = corners[(k + 1) % 4];
        let steps = ((b[0] - a[0]).hypot(b[1] - a[1])).ceil().max(1.0);
        edge.extend((0..steps as usize).map(|i| {
            let t = i as f32 / steps;
            place(a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t)
        }));
    }
    Zone { covered: Region { distance_mm, edges: vec![edge] }, ..Zone::default() }
}
