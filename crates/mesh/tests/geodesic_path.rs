//! Shortest lines against closed forms.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // Helpers of tests are not seen as tests.

mod patches;

use mesh::geodesic::path;
use nalgebra::Point2;
use patches::Shape;

const SHAPES: [Shape; 3] =
    [Shape::Plane, Shape::Cylinder { radius_mm: 40.0 }, Shape::Cone { half_angle: 0.079_705_6, slant_mm: 480.0 }];

#[test]
fn is_as_long_as_the_straight_line_of_the_development() {
    for shape in SHAPES {
        for (jitter, seed) in [(0.0, 1), (0.2, 5), (0.4, 3)] {
            let (_, surface) = shape.surface(90.0, 90.0, 1.0, jitter, seed);
            for (a, b) in [
                ((-30.3, -21.2), (33.1, 28.4)),
                ((0.0, 0.0), (1.0, 0.0)),
                ((-40.0, 3.0), (40.0, 3.0)),
                ((0.2, 0.3), (0.4, 2.9)),
            ] {
                let (a, b) = (Point2::new(a.0, a.1), Point2::new(b.0, b.1));
                let [from, to] = [a, b].map(|p| surface.nearest(&shape.place(&p).cast(), None).unwrap());
                let line = path(&surface, &from, &to).unwrap();
                let (found, truth) = (line.length_mm(), (b - a).norm());
                println!("{shape:?} jitter {jitter} {truth:.3}: {:+.4} %", (found / truth - 1.0) * 100.0);
                assert!((found / truth - 1.0).abs() < 0.005, "{shape:?} {found} for {truth}");
                assert_eq!(line.triangles.len() + 1, line.points.len());
            }
        }
    }
}

#[test]
fn every_short_line_is_straight() {
    let shape = Shape::Plane;
    for (jitter, seed) in [(0.0, 1), (0.4, 2)] {
        let (_, surface) = shape.surface(20.0, 20.0, 1.0, jitter, seed);
        let mut x = 1_u32;
        let mut next = || {
            x = x.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(x >> 8) / f64::from(1 << 24) * 8.0 - 4.0
        };
        for i in 0..3000 {
            // Also points on vertices and edges.
            let snap = |v: f64| {
                if i % 3 == 0 {
                    v.round()
                } else if i % 3 == 1 {
                    (v * 2.0).round() / 2.0
                } else {
                    v
                }
            };
            let (a, b) = (Point2::new(snap(next()), snap(next())), Point2::new(snap(next()), snap(next())));
            let [from, to] = [a, b].map(|p| surface.nearest(&shape.place(&p).cast(), None).unwrap());
            let line = path(&surface, &from, &to).unwrap();
            assert!((line.length_mm() - (b - a).norm()).abs() < 1e-4, "{a} {b} {} {:?}", line.length_mm(), line);
        }
    }
}
