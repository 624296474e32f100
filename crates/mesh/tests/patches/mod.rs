//! Irregular patches of plane, cylinder, cone and sphere with known distances, for tests.
#![allow(dead_code, missing_docs)]

use mesh::{Mesh, Surface};
use nalgebra::{Point2, Point3};
use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;

/// Jittered points over a rectangle around the origin, joined by Delaunay triangles (Lawson's flips).
pub fn flat(width_mm: f64, height_mm: f64, step_mm: f64, jitter: f64, seed: u64) -> (Vec<Point2<f64>>, Vec<[u32; 3]>) {
    let (nx, ny) = ((width_mm / step_mm).round() as usize, (height_mm / step_mm).round() as usize);
    let mut random = Pcg32::new(seed, 7);
    let mut unit = || f64::from(random.next_u32()) / f64::from(u32::MAX) - 0.5;
    let mut points = Vec::new();
    for j in 0..=ny {
        for i in 0..=nx {
            let (dx, dy) = (unit() * 2.0 * jitter, unit() * 2.0 * jitter);
            let x = i as f64 + if i == 0 || i == nx { 0.0 } else { dx };
            let y = j as f64 + if j == 0 || j == ny { 0.0 } else { dy };
            points.push(Point2::new(x * step_mm - width_mm / 2.0, y * step_mm - height_mm / 2.0));
        }
    }
    let mut triangles = Vec::new();
    let w = nx as u32 + 1;
    for j in 0..ny as u32 {
        for i in 0..nx as u32 {
            let a = j * w + i;
            triangles.extend([[a, a + 1, a + w + 1], [a, a + w + 1, a + w]]);
        }
    }
    flip_until_delaunay(&points, &mut triangles);
    (points, triangles)
}

fn flip_until_delaunay(points: &[Point2<f64>], triangles: &mut [[u32; 3]]) {
    let area = |a: u32, b: u32, c: u32| {
        (points[b as usize] - points[a as usize]).perp(&(points[c as usize] - points[a as usize]))
    };
    let cotangent = |t: [u32; 3], k: usize| {
        let [a, b, c] = [t[k], t[(k + 1) % 3], t[(k + 2) % 3]].map(|v| points[v as usize]);
        (b - a).dot(&(c - a)) / (b - a).perp(&(c - a))
    };
    for _ in 0..30 {
        let mesh = Mesh::new(vec![Point3::origin(); points.len()], triangles.to_vec());
        let neighbours = mesh::Adjacency::new(&mesh).neighbours;
        let mut touched = vec![false; triangles.len()];
        let mut changed = false;
        for t in 0..triangles.len() {
            for k in 0..3 {
                let u = neighbours[t][k] as usize;
                if neighbours[t][k] == mesh::NONE || touched[t] || touched[u] {
                    continue;
                }
                let (a, b, tip) = (triangles[t][k], triangles[t][(k + 1) % 3], triangles[t][(k + 2) % 3]);
                let Some(l) = (0..3).find(|l| triangles[u][*l] != a && triangles[u][*l] != b) else { continue };
                let far = triangles[u][l];
                let poor = area(a, b, tip) <= 0.0
                    || area(b, a, far) <= 0.0
                    || cotangent(triangles[t], (k + 2) % 3) + cotangent(triangles[u], l) < -1e-9;
                if poor && area(a, far, tip) > 0.0 && area(far, b, tip) > 0.0 {
                    triangles[t] = [a, far, tip];
                    triangles[u] = [far, b, tip];
                    (touched[t], touched[u], changed) = (true, true, true);
                }
            }
        }
        if !changed {
            break;
        }
    }
}

/// A way to lay the plane on a surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    Plane,
    /// Rolled round the z axis.
    Cylinder {
        radius_mm: f64,
    },
    /// Rolled to a cone: the plane's origin lies `slant_mm` from the tip.
    Cone {
        half_angle: f64,
        slant_mm: f64,
    },
    /// Azimuthal equidistant about the pole: distances from the origin are kept.
    Sphere {
        radius_mm: f64,
    },
}

impl Shape {
    pub fn place(self, p: &Point2<f64>) -> Point3<f64> {
        match self {
            Self::Plane => Point3::new(p.x, p.y, 0.0),
            Self::Cylinder { radius_mm: r } => Point3::new(r * (p.x / r).cos(), r * (p.x / r).sin(), p.y),
            Self::Cone { half_angle, slant_mm } => {
                let (x, y) = (p.x, slant_mm - p.y);
                let (s, turn) = (x.hypot(y), x.atan2(y) / half_angle.sin());
                let r = s * half_angle.sin();
                Point3::new(r * turn.cos(), r * turn.sin(), -s * half_angle.cos())
            }
            Self::Sphere { radius_mm: r } => {
                let (s, turn) = (p.x.hypot(p.y), p.y.atan2(p.x));
                let a = s / r;
                Point3::new(r * a.sin() * turn.cos(), r * a.sin() * turn.sin(), r * a.cos())
            }
        }
    }

    pub fn surface(
        self,
        width_mm: f64,
        height_mm: f64,
        step_mm: f64,
        jitter: f64,
        seed: u64,
    ) -> (Vec<Point2<f64>>, Surface) {
        let (flat, triangles) = flat(width_mm, height_mm, step_mm, jitter, seed);
        let points = flat.iter().map(|p| self.place(p).cast()).collect();
        (flat, Surface::new(Mesh::new(points, triangles)))
    }
}

/// Distance in the plane to a chain of segments.
pub fn plane_distance(p: &Point2<f64>, chain: &[Point2<f64>], closed: bool) -> f64 {
    let n = chain.len();
    (0..if closed { n } else { n - 1 })
        .map(|i| {
            let (a, b) = (chain[i], chain[(i + 1) % n]);
            let t = ((p - a).dot(&(b - a)) / (b - a).norm_squared()).clamp(0.0, 1.0);
            (p - (a + (b - a) * t)).norm()
        })
        .fold(f64::INFINITY, f64::min)
}

/// Points no farther apart than `step_mm` along a chain.
pub fn dense(chain: &[Point2<f64>], closed: bool, step_mm: f64) -> Vec<Point2<f64>> {
    let n = chain.len();
    let mut out = Vec::new();
    for i in 0..if closed { n } else { n - 1 } {
        let (a, b) = (chain[i], chain[(i + 1) % n]);
        let parts = ((b - a).norm() / step_mm).ceil().max(1.0);
        out.extend((0..parts as usize).map(|k| a + (b - a) * (k as f64 / parts)));
    }
    if !closed {
        out.push(chain[n - 1]);
    }
    out
}

/// A circle as a closed chain.
pub fn circle(middle: Point2<f64>, radius_mm: f64, corners: usize) -> Vec<Point2<f64>> {
    (0..corners)
        .map(|i| {
            let a = std::f64::consts::TAU * i as f64 / corners as f64;
            middle + nalgebra::Vector2::new(a.cos(), a.sin()) * radius_mm
        })
        .collect()
}
