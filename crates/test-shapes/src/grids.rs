//! Rows and columns laid on a surface, open at the ends.

use std::f64::consts::TAU;

use crate::Shape;
use crate::random::{between, seeded};

/// Which ends of a grid are joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wrap {
    /// None: a sheet.
    None,
    /// The last column to the first: a tube.
    Columns,
    /// Columns and rows: a torus.
    Both,
}

/// How the squares of a grid are cut in two.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Diagonals {
    /// All the same way.
    Alike,
    /// One way and the other in turn.
    Alternate,
    /// Each second row is shifted by half a column, which makes nearly equilateral triangles; for closed columns.
    Staggered,
}

/// `columns` by `rows` squares, each of two triangles, with points at `place(u, v)` for u and v from 0 to 1. The
/// triangles face along ∂place/∂u × ∂place/∂v.
#[must_use]
pub fn grid(
    columns: u32,
    rows: u32,
    wrap: Wrap,
    diagonals: Diagonals,
    mut place: impl FnMut(f64, f64) -> [f64; 3],
) -> Shape {
    let across = if wrap == Wrap::None { columns + 1 } else { columns };
    let up = if wrap == Wrap::Both { rows } else { rows + 1 };
    let mut points = Vec::with_capacity((across * up) as usize);
    for j in 0..up {
        let shift = if diagonals == Diagonals::Staggered && j % 2 == 1 { 0.5 } else { 0.0 };
        for i in 0..across {
            let (u, v) = ((f64::from(i) + shift) / f64::from(columns), f64::from(j) / f64::from(rows));
            points.push(place(u, v).map(|x| x as f32));
        }
    }
    let at = |i: u32, j: u32| j % up * across + i % across;
    let mut triangles = Vec::with_capacity((2 * columns * rows) as usize);
    for j in 0..rows {
        for i in 0..columns {
            let [a, b, c, d] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
            // The short diagonal starts at the lower right below a shifted row, and at the lower left below the others.
            let from_left = match diagonals {
                Diagonals::Alike => true,
                Diagonals::Alternate => (i + j) % 2 == 0,
                Diagonals::Staggered => j % 2 == 1,
            };
            triangles.extend(if from_left { [[a, b, c], [a, c, d]] } else { [[a, b, d], [b, c, d]] });
        }
    }
    Shape { points, triangles }
}

/// A staggered grid, its columns closed, whose points are moved at random by up to `uneven` of the spacing along and
/// across; the first and the last row only along themselves. Points stay exactly on `place(u, v)`.
#[must_use]
pub fn uneven_grid(columns: u32, rows: u32, uneven: f64, seed: u64, place: impl Fn(f64, f64) -> [f64; 3]) -> Shape {
    let mut random = seeded(seed);
    let mut shape = grid(columns, rows, Wrap::Columns, Diagonals::Staggered, |_, _| [0.0; 3]);
    for (i, point) in shape.points.iter_mut().enumerate() {
        let (column, row) = (i as u32 % columns, i as u32 / columns);
        let [along, across] = [0, 1].map(|_| between(&mut random, -uneven, uneven));
        let across = if row == 0 || row == rows { 0.0 } else { across };
        let u = (f64::from(column) + 0.5 * f64::from(row % 2) + along) / f64::from(columns);
        *point = place(u, (f64::from(row) + across) / f64::from(rows)).map(|x| x as f32);
    }
    shape
}

/// A flat sheet of `columns` by `rows` squares of side `step` from the origin, facing up.
#[must_use]
pub fn plane(columns: u32, rows: u32, step: f64) -> Shape {
    height_field(columns, rows, step, Diagonals::Alike, |_, _| 0.0)
}

/// A sheet of `columns` by `rows` squares of side `step` from the origin, at `height(x, y)`, facing up.
#[must_use]
pub fn height_field(
    columns: u32,
    rows: u32,
    step: f64,
    diagonals: Diagonals,
    height: impl Fn(f64, f64) -> f64,
) -> Shape {
    let size = [columns, rows].map(|n| f64::from(n) * step);
    grid(columns, rows, Wrap::None, diagonals, |u, v| {
        let (x, y) = (u * size[0], v * size[1]);
        [x, y, height(x, y)]
    })
}

/// A tube about the z axis between two heights, open at both ends, of `rows` rings of `around` points.
#[must_use]
pub fn tube(radius: f64, [low, high]: [f64; 2], around: u32, rows: u32) -> Shape {
    grid(around, rows - 1, Wrap::Columns, Diagonals::Alike, |u, v| {
        let (s, c) = (u * TAU).sin_cos();
        [radius * c, radius * s, low + (high - low) * v]
    })
}

/// A tube about the z axis with its middle at the origin, open at both ends, of nearly equilateral triangles.
#[must_use]
pub fn even_tube(radius: f64, length: f64, edge: f64) -> Shape {
    even_frustum([radius; 2], length, edge)
}

/// A frustum of a cone about the z axis with its middle at the origin, open at both ends: the radii at the lower and
/// the upper end; triangles are nearly equilateral where it is widest.
#[must_use]
pub fn even_frustum([lower, upper]: [f64; 2], length: f64, edge: f64) -> Shape {
    let columns = (TAU * lower.max(upper) / edge).round() as u32;
    let rows = (length / (edge * 0.75_f64.sqrt())).round() as u32;
    grid(columns, rows, Wrap::Columns, Diagonals::Staggered, |u, v| {
        let ((s, c), radius) = ((u * TAU).sin_cos(), lower + (upper - lower) * v);
        [radius * c, radius * s, length * (v - 0.5)]
    })
}

/// A bulging tube like a lower leg, 350 mm long, open at both ends: `rows` squares along and twice as many round.
#[must_use]
pub fn limb(rows: u32) -> Shape {
    grid(2 * rows, rows, Wrap::Columns, Diagonals::Alike, |u, v| {
        let ((s, c), z) = ((u * TAU).sin_cos(), v * 350.0);
        let bumps = 5.0 * c * (z / 60.0).cos() + 0.3 * (0.9 * z).sin() * (9.0 * s).cos();
        let radius = 40.0 + 14.0 * (z / 110.0).sin() + bumps;
        [radius * c, 0.85 * radius * s, z]
    })
}

/// A Möbius band: a strip `width` wide round a circle of `radius`, turned by half a turn on the way round.
#[must_use]
pub fn moebius(radius: f64, width: f64, around: u32) -> Shape {
    let mut points = Vec::new();
    for i in 0..around {
        let turn = TAU * f64::from(i) / f64::from(around);
        for side in [-0.5, 0.5] {
            let r = radius + width * side * (turn / 2.0).cos();
            let z = width * side * (turn / 2.0).sin();
            points.push([r * turn.cos(), r * turn.sin(), z].map(|x| x as f32));
        }
    }
    let triangles = (0..around)
        .flat_map(|i| {
            let (a, b) = (2 * i, 2 * i + 1);
            let (c, d) = if i + 1 == around { (1, 0) } else { (a + 2, b + 2) };
            [[a, c, d], [a, d, b]]
        })
        .collect();
    Shape { points, triangles }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Point3, Vector3};

    fn crosses(shape: &Shape) -> impl Iterator<Item = (Point3<f64>, Vector3<f64>)> + '_ {
        shape.triangles.iter().map(|t| {
            let [a, b, c] = t.map(|v| Point3::from(shape.points[v as usize]).cast::<f64>());
            (a, (b - a).cross(&(c - a)))
        })
    }

    #[test]
    fn sheets_face_up_and_have_their_area() {
        for diagonals in [Diagonals::Alike, Diagonals::Alternate] {
            let sheet = height_field(7, 5, 2.0, diagonals, |x, _| 0.75 * x);
            assert!(crosses(&sheet).all(|(_, n)| n.z > 0.0));
            // A slope of 3 in 4 makes the area 5/4 as large.
            let area: f64 = crosses(&sheet).map(|(_, n)| 0.5 * n.norm()).sum();
            assert!((area - 14.0 * 10.0 * 1.25).abs() < 1e-9);
        }
    }

    #[test]
    fn tubes_face_outward_and_have_their_area() {
        for shape in
            [tube(20.0, [-30.0, 30.0], 200, 40), even_tube(20.0, 60.0, 1.0), even_frustum([25.0, 15.0], 60.0, 1.0)]
        {
            assert!(crosses(&shape).all(|(p, n)| n.xy().dot(&p.coords.xy()) > 0.0));
            let slant = if shape.points[0][0] > 24.0 { 60_f64.hypot(10.0) } else { 60.0 };
            let area: f64 = crosses(&shape).map(|(_, n)| 0.5 * n.norm()).sum();
            assert!((area / (TAU * 20.0 * slant) - 1.0).abs() < 1e-3, "{area}");
        }
    }

    #[test]
    fn uneven_points_stay_on_the_surface_and_no_triangle_turns_over() {
        let shape = uneven_grid(120, 60, 0.3, 3, |u, v| {
            let (s, c) = (u * TAU).sin_cos();
            [20.0 * c, 20.0 * s, 60.0 * v]
        });
        assert!(shape.points.iter().all(|[x, y, _]| (x.hypot(*y) - 20.0).abs() < 1e-5));
        assert!(crosses(&shape).all(|(p, n)| n.xy().dot(&p.coords.xy()) > 0.0));
        let even = tube(20.0, [0.0, 60.0], 120, 61);
        assert!(shape.points.iter().zip(&even.points).any(|(p, q)| (p[2] - q[2]).abs() > 0.2));
    }

    #[test]
    fn even_triangles_have_sides_of_the_length_asked_for() {
        let shape = even_tube(30.0, 60.0, 1.5);
        let sides = shape.triangles.iter().flat_map(|t| {
            let [a, b, c] = t.map(|v| Point3::from(shape.points[v as usize]));
            [(b - a).norm(), (c - b).norm(), (a - c).norm()]
        });
        assert!(sides.into_iter().all(|side| (side / 1.5 - 1.0).abs() < 0.02));
    }
}
