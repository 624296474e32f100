//! Irregular triangulations of a rectangle, laid on surfaces where every distance has a closed form.

use std::collections::HashMap;

use nalgebra::{Point2, Point3};
use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;

use crate::shape::Arrays;

/// A grid of points over a rectangle around the origin, moved at random by up to `jitter` steps and joined by Delaunay
/// triangles (Lawson's flips).
#[must_use]
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
        let neighbours = neighbours(triangles);
        let mut touched = vec![false; triangles.len()];
        let mut changed = false;
        for t in 0..triangles.len() {
            for k in 0..3 {
                let Some(u) = neighbours[t][k].filter(|u| !touched[t] && !touched[*u]) else { continue };
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

/// The triangle across each side of each triangle.
fn neighbours(triangles: &[[u32; 3]]) -> Vec<[Option<usize>; 3]> {
    let mut found = vec![[None; 3]; triangles.len()];
    let mut open: HashMap<(u32, u32), (usize, usize)> = HashMap::new();
    for (t, c) in triangles.iter().enumerate() {
        for k in 0..3 {
            let (a, b) = (c[k], c[(k + 1) % 3]);
            match open.remove(&(a.min(b), a.max(b))) {
                Some((u, l)) => (found[t][k], found[u][l]) = (Some(u), Some(t)),
                None => drop(open.insert((a.min(b), a.max(b)), (t, k))),
            }
        }
    }
    found
}

/// A way to lay the plane on a surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rolled {
    /// Flat, at z = 0.
    Plane,
    /// Rolled round the z axis: all distances are kept.
    Cylinder {
        /// Radius of the cylinder.
        radius_mm: f64,
    },
    /// Rolled to a cone about the z axis with its apex at the origin, opening downward: all distances are kept.
    Cone {
        /// Angle between axis and side, radians.
        half_angle: f64,
        /// From the apex to the image of the plane's origin.
        slant_mm: f64,
    },
    /// Azimuthal equidistant map about the pole: distances from the plane's origin are kept.
    Sphere {
        /// Radius of the sphere.
        radius_mm: f64,
    },
}

impl Rolled {
    /// The point of the surface for a point of the plane.
    #[must_use]
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

    /// The points of a [`flat`] triangulation in the plane, and the triangulation laid on the surface.
    #[must_use]
    pub fn surface<T: From<Arrays>>(
        self,
        width_mm: f64,
        height_mm: f64,
        step_mm: f64,
        jitter: f64,
        seed: u64,
    ) -> (Vec<Point2<f64>>, T) {
        let (flat, triangles) = flat(width_mm, height_mm, step_mm, jitter, seed);
        let points = flat.iter().map(|p| self.place(p).cast::<f32>().into()).collect();
        (flat, T::from((points, triangles)))
    }
}

/// Distance in the plane to a chain of segments.
#[must_use]
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
#[must_use]
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
#[must_use]
pub fn circle(middle: Point2<f64>, radius_mm: f64, corners: usize) -> Vec<Point2<f64>> {
    (0..corners)
        .map(|i| {
            let a = std::f64::consts::TAU * i as f64 / corners as f64;
            middle + nalgebra::Vector2::new(a.cos(), a.sin()) * radius_mm
        })
        .collect()
}
