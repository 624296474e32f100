//! Closed bodies, facing outward.

use std::collections::BTreeMap;
use std::f64::consts::TAU;

use nalgebra::Point3;

use crate::Shape;
use crate::grids::{Diagonals, Wrap, grid, tube};

/// A box with one corner at the origin and the opposite one at `size`, of twelve triangles.
#[must_use]
pub fn cuboid(size: [f32; 3]) -> Shape {
    let points =
        (0..8_u8).map(|corner| [0, 1, 2].map(|axis| if corner >> axis & 1 == 1 { size[axis] } else { 0.0 })).collect();
    let sides = [[0, 4, 6, 2], [1, 3, 7, 5], [0, 1, 5, 4], [2, 6, 7, 3], [0, 2, 3, 1], [4, 5, 7, 6]];
    let triangles = sides.iter().flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]]).collect();
    Shape { points, triangles }
}

/// The corner of a cube cut off at `leg` from the origin along each axis; its volume is leg³/6.
#[must_use]
pub fn tetrahedron(leg: f32) -> Shape {
    Shape {
        points: vec![[0.0; 3], [leg, 0.0, 0.0], [0.0, leg, 0.0], [0.0, 0.0, leg]],
        triangles: vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]],
    }
}

/// An octahedron with corners at `low` and `high` on each axis.
#[must_use]
pub fn octahedron(low: f32, high: f32) -> Shape {
    let points = (0..6).map(|i| {
        let mut p = [0.0; 3];
        p[i / 2] = if i % 2 == 0 { high } else { low };
        p
    });
    Shape {
        points: points.collect(),
        triangles: vec![[0, 2, 4], [2, 1, 4], [1, 3, 4], [3, 0, 4], [2, 0, 5], [1, 2, 5], [3, 1, 5], [0, 3, 5]],
    }
}

/// A sphere about the origin from an icosahedron subdivided `times` times: 20 · 4^times triangles.
#[must_use]
pub fn icosphere(radius: f64, times: usize) -> Shape {
    let g = f64::midpoint(1.0, 5_f64.sqrt());
    let mut points: Vec<Point3<f64>> = [(-1., g), (1., g), (-1., -g), (1., -g)]
        .iter()
        .flat_map(|(a, b)| [Point3::new(*a, *b, 0.0), Point3::new(0.0, *a, *b), Point3::new(*b, 0.0, *a)])
        .collect();
    // The edges of this icosahedron have length 2; its faces are the triples of neighbours.
    let near = |a: &Point3<f64>, b: &Point3<f64>| ((a - b).norm() - 2.0).abs() < 1e-9;
    let mut triangles = Vec::new();
    for i in 0..12 {
        for j in i + 1..12 {
            for k in j + 1..12 {
                let (a, b, c) = (points[i], points[j], points[k]);
                if near(&a, &b) && near(&b, &c) && near(&c, &a) {
                    let outward = (b - a).cross(&(c - a)).dot(&a.coords) > 0.0;
                    triangles.push(if outward { [i, j, k] } else { [i, k, j] });
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
        points.iter_mut().for_each(|p| p.coords /= p.coords.norm());
    }
    Shape {
        points: points.iter().map(|p| (p.coords.normalize() * radius).cast::<f32>().into()).collect(),
        triangles: triangles.into_iter().map(|t| t.map(|v| v as u32)).collect(),
    }
}

/// A sphere about the origin of `around` meridians and half as many rows, its poles on the z axis.
#[must_use]
pub fn uv_sphere(radius: f64, around: u32) -> Shape {
    let rows = around / 2;
    let inner = |i: u32, j: u32| 2 + (j - 1) * around + i % around;
    let mut points = vec![[0.0, 0.0, radius as f32], [0.0, 0.0, -radius as f32]];
    for j in 1..rows {
        let (sin, cos) = (f64::from(j) / f64::from(rows) * std::f64::consts::PI).sin_cos();
        points.extend((0..around).map(|i| {
            let (s, c) = (f64::from(i) / f64::from(around) * TAU).sin_cos();
            [radius * sin * c, radius * sin * s, radius * cos].map(|x| x as f32)
        }));
    }
    let mut triangles = Vec::new();
    for i in 0..around {
        triangles.push([0, inner(i, 1), inner(i + 1, 1)]);
        for j in 1..rows - 1 {
            let [a, b, c, d] = [inner(i, j), inner(i, j + 1), inner(i + 1, j + 1), inner(i + 1, j)];
            triangles.extend([[a, b, c], [a, c, d]]);
        }
        triangles.push([1, inner(i + 1, rows - 1), inner(i, rows - 1)]);
    }
    Shape { points, triangles }
}

/// A cylinder about the z axis between two heights, closed by flat caps that fan from their middles.
#[must_use]
pub fn cylinder(radius: f64, [low, high]: [f64; 2], around: u32, rows: u32) -> Shape {
    let mut body = tube(radius, [low, high], around, rows);
    let middle = body.points.len() as u32;
    body.points.extend([[0.0, 0.0, low as f32], [0.0, 0.0, high as f32]]);
    let top = (rows - 1) * around;
    for i in 0..around {
        let next = (i + 1) % around;
        body.triangles.extend([[middle, next, i], [middle + 1, top + i, top + next]]);
    }
    body
}

/// A torus about the z axis: `ring` from the axis to the middle of the tube, `tube` the tube's own radius. Its area is
/// 4π²·ring·tube, its volume 2π²·ring·tube².
#[must_use]
pub fn torus(ring: f64, tube: f64, around: u32, across: u32) -> Shape {
    grid(around, across, Wrap::Both, Diagonals::Alike, |u, v| {
        let ((s, c), (t, r)) = ((u * TAU).sin_cos(), (v * TAU).sin_cos());
        [(ring + tube * r) * c, (ring + tube * r) * s, tube * t]
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// Volume by the divergence theorem and area; the shape must be closed and consistently oriented.
    fn measured(shape: &Shape) -> (f64, f64) {
        let mut sides: BTreeMap<(u32, u32), i32> = BTreeMap::new();
        let (mut volume, mut area) = (0.0, 0.0);
        for t in &shape.triangles {
            for k in 0..3 {
                let (a, b) = (t[k], t[(k + 1) % 3]);
                assert_ne!(a, b);
                *sides.entry((a.min(b), a.max(b))).or_default() += if a < b { 1 } else { -1 };
            }
            let [a, b, c] = t.map(|v| Point3::from(shape.points[v as usize]).cast::<f64>().coords);
            volume += a.dot(&b.cross(&c)) / 6.0;
            area += 0.5 * (b - a).cross(&(c - a)).norm();
        }
        assert!(sides.values().all(|sum| *sum == 0), "every edge is run once each way");
        (volume, area)
    }

    fn close(found: (f64, f64), volume: f64, area: f64, share: f64) {
        assert!((found.0 / volume - 1.0).abs() < share, "volume {} for {volume}", found.0);
        assert!((found.1 / area - 1.0).abs() < share, "area {} for {area}", found.1);
    }

    #[test]
    fn bodies_are_closed_outward_and_of_the_size_that_their_formulas_say() {
        close(measured(&cuboid([2.0, 3.0, 4.0])), 24.0, 52.0, 1e-12);
        close(measured(&tetrahedron(2.0)), 8.0 / 6.0, 6.0 + 2.0 * 3_f64.sqrt(), 1e-7);
        close(measured(&octahedron(-1.0, 1.0)), 4.0 / 3.0, 4.0 * 3_f64.sqrt(), 1e-7);
        let ball = (4.0 / 3.0 * PI * 1000.0, 400.0 * PI);
        close(measured(&icosphere(10.0, 5)), ball.0, ball.1, 2e-3);
        close(measured(&uv_sphere(10.0, 120)), ball.0, ball.1, 2e-3);
        close(measured(&cylinder(5.0, [-3.0, 7.0], 300, 4)), 250.0 * PI, 150.0 * PI, 1e-3);
        close(measured(&torus(60.0, 15.0, 300, 100)), 27_000.0 * PI * PI, 3600.0 * PI * PI, 2e-3);
        assert_eq!(icosphere(1.0, 2).triangles.len(), 320);
    }
}
