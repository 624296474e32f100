//! Distances over the skin against closed forms: cylinder √((RΔθ)²+Δz²), cone by its development, sphere R·acos(n₁·n₂)
//! (do Carmo, "Differential Geometry of Curves and Surfaces").
#![allow(clippy::unwrap_used, clippy::print_stdout)] // Clippy takes helpers of tests for ordinary code.

use mesh::geodesic::{SurfaceLine, WeightedPoint, distance_from_points, distance_to_lines};
use mesh::{Job, Surface};
use nalgebra::{Point2, Point3};
use test_shapes::patches::{Rolled, circle, dense, plane_distance};

const SHAPES: [Rolled; 3] = [
    Rolled::Plane,
    Rolled::Cylinder { radius_mm: 40.0 },
    // The median forearm: half-angle 4.5668°, slants 351.8 to 619.7 mm.
    Rolled::Cone { half_angle: 0.079_705_6, slant_mm: 480.0 },
];
const SPHERE_MM: f64 = 50.0;

/// Largest error and where it is: relative beyond 2 mm, as a share of 2 mm below, so that 1 % means 0.02 mm there.
fn worst(found: &[f32], truth: impl Fn(usize) -> f64, reach: f64) -> (f64, usize) {
    let mut worst = (0.0, 0);
    for (i, d) in found.iter().enumerate() {
        let t = truth(i);
        if t > 0.98 * reach {
            continue;
        }
        let e = (f64::from(*d) - t).abs();
        let scaled = if t > 2.0 { e / t } else { e / 2.0 };
        if scaled > worst.0 {
            worst = (scaled, i);
        }
    }
    worst
}

fn lay(surface: &Surface, shape: Rolled, chain: &[Point2<f64>], closed: bool) -> SurfaceLine {
    let through: Vec<Point3<f32>> = chain.iter().map(|p| shape.place(p).cast()).collect();
    SurfaceLine::lay(surface, &through, closed, &Job::silent()).unwrap()
}

fn check(name: &str, chain: &[Point2<f64>], closed: bool) {
    for shape in SHAPES {
        for (jitter, seed) in [(0.0, 1), (0.2, 2), (0.4, 3)] {
            let (flat, surface) = shape.surface::<Surface>(110.0, 110.0, 1.0, jitter, seed);
            let line = lay(&surface, shape, &dense(chain, closed, 2.0), closed);
            let found = distance_to_lines(&surface, &[line], 40.0, &Job::silent()).unwrap();
            let (error, at) = worst(&found, |i| plane_distance(&flat[i], chain, closed), 40.0);
            println!("{name} {shape:?} jitter {jitter}: {:.3} % at {:?}: {}", error * 100.0, flat[at], found[at]);
            assert!(error < 0.01, "{name} on {shape:?}, jitter {jitter}: {} %", error * 100.0);
        }
    }
}

#[test]
fn straight_line_oblique() {
    check("straight", &[Point2::new(-20.0, -33.0), Point2::new(17.3, 41.0)], false);
}

#[test]
fn closed_square_with_sharp_corners() {
    let square = [(-18.0, -15.0), (21.0, -19.0), (19.0, 22.0), (-15.0, 17.0)].map(|(x, y)| Point2::new(x, y));
    check("square", &square, true);
}

#[test]
fn zigzag_with_sharp_corners_both_ways() {
    let zigzag = [(-30.0, -5.0), (-10.0, 12.0), (-3.0, -14.0), (9.0, 16.0), (14.0, -9.0), (31.0, 4.0)];
    check("zigzag", &zigzag.map(|(x, y)| Point2::new(x, y)), false);
}

#[test]
fn strongly_curved_closed_line() {
    check("circle 5", &circle(Point2::new(1.3, -2.1), 5.0, 120), true);
    check("circle 20", &circle(Point2::new(1.3, -2.1), 20.0, 240), true);
}

#[test]
fn from_a_point() {
    for shape in SHAPES {
        for (jitter, seed) in [(0.0, 1), (0.4, 3)] {
            let (flat, surface) = shape.surface::<Surface>(110.0, 110.0, 1.0, jitter, seed);
            let from = Point2::new(3.3, -7.7);
            let at = surface.nearest(&shape.place(&from).cast(), None).unwrap();
            let found =
                distance_from_points(&surface, &[WeightedPoint { at, start_mm: 0.0 }], 40.0, &Job::silent()).unwrap();
            let (error, _) = worst(&found, |i| (flat[i] - from).norm(), 40.0);
            println!("point {shape:?} jitter {jitter}: {:.3} %", error * 100.0);
            assert!(error < 0.01, "{shape:?}: {} %", error * 100.0);
        }
    }
}

#[test]
fn on_a_sphere_from_pole_circle_and_geodesic_triangle() {
    let shape = Rolled::Sphere { radius_mm: SPHERE_MM };
    for (jitter, seed) in [(0.0, 1), (0.4, 3)] {
        let (flat, surface) = shape.surface::<Surface>(120.0, 120.0, 1.0, jitter, seed);
        let unit = |i: usize| surface.mesh().points[i].coords.cast::<f64>().normalize();

        let from = shape.place(&Point2::new(8.0, -5.0));
        let at = surface.nearest(&from.cast(), None).unwrap();
        let found =
            distance_from_points(&surface, &[WeightedPoint { at, start_mm: 0.0 }], 40.0, &Job::silent()).unwrap();
        let (error, at) = worst(&found, |i| SPHERE_MM * unit(i).angle(&from.coords), 40.0);
        println!("sphere point, jitter {jitter}: {:.3} % at {:?} {}", error * 100.0, flat[at], found[at]);
        assert!(error < 0.01, "point {error}");

        for radius in [6.0, 25.0] {
            let line = lay(&surface, shape, &circle(Point2::origin(), radius, 200), true);
            let found = distance_to_lines(&surface, &[line], 40.0, &Job::silent()).unwrap();
            let (error, _) = worst(&found, |i| (flat[i].coords.norm() - radius).abs(), 30.0);
            println!("sphere circle {radius}, jitter {jitter}: {:.3} %", error * 100.0);
            assert!(error < 0.01, "circle {radius}: {error}");
        }

        let corners = [(-20.0, -14.0), (22.0, -9.0), (3.0, 24.0)]
            .map(|(x, y)| shape.place(&Point2::new(x, y)).coords.normalize());
        let through: Vec<Point3<f32>> = corners.iter().map(|c| Point3::from(c * SPHERE_MM).cast()).collect();
        let line = SurfaceLine::lay(&surface, &through, true, &Job::silent()).unwrap();
        let found = distance_to_lines(&surface, &[line], 40.0, &Job::silent()).unwrap();
        let truth = |i: usize| {
            let x = unit(i);
            (0..3)
                .map(|k| {
                    let (a, b) = (corners[k], corners[(k + 1) % 3]);
                    let n = a.cross(&b).normalize();
                    let foot = (x - n * x.dot(&n)).normalize();
                    let within = a.cross(&foot).dot(&n) >= 0.0 && foot.cross(&b).dot(&n) >= 0.0;
                    SPHERE_MM * if within { x.dot(&n).abs().asin() } else { x.angle(&a).min(x.angle(&b)) }
                })
                .fold(f64::INFINITY, f64::min)
        };
        let (error, at) = worst(&found, truth, 36.0);
        println!("sphere triangle, jitter {jitter}: {:.3} % at {:?}", error * 100.0, flat[at]);
        assert!(error < 0.01, "triangle {error}");
    }
}

#[test]
fn neighbours_never_differ_by_more_than_their_edge() {
    for seed in 0..6 {
        let shape = Rolled::Cylinder { radius_mm: 30.0 + seed as f64 };
        let (_, surface) = shape.surface::<Surface>(60.0, 50.0, 1.0, 0.4, seed);
        let line = lay(&surface, shape, &circle(Point2::new(2.0, seed as f64), 9.0, 40), true);
        let found = distance_to_lines(&surface, &[line], 25.0, &Job::silent()).unwrap();
        for c in &surface.mesh().triangles {
            for k in 0..3 {
                let (a, b) = (c[k] as usize, c[(k + 1) % 3] as usize);
                let edge = (surface.mesh().points[a] - surface.mesh().points[b]).norm();
                assert!((found[a] - found[b]).abs() <= edge * 1.01 + 1e-3, "{} {} {edge}", found[a], found[b]);
            }
        }
    }
}
