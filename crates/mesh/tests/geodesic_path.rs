//! Shortest lines against closed forms.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // Clippy takes helpers of tests for ordinary code.

use mesh::geodesic::path;
use mesh::{Job, Surface};
use nalgebra::Point2;
use test_shapes::patches::Rolled;

const SHAPES: [Rolled; 3] =
    [Rolled::Plane, Rolled::Cylinder { radius_mm: 40.0 }, Rolled::Cone { half_angle: 0.079_705_6, slant_mm: 480.0 }];

#[test]
fn is_as_long_as_the_straight_line_of_the_development() {
    for shape in SHAPES {
        for (jitter, seed) in [(0.0, 1), (0.2, 5), (0.4, 3)] {
            let (_, surface) = shape.surface::<Surface>(90.0, 90.0, 1.0, jitter, seed);
            for (a, b) in [
                ((-30.3, -21.2), (33.1, 28.4)),
                ((0.0, 0.0), (1.0, 0.0)),
                ((-40.0, 3.0), (40.0, 3.0)),
                ((0.2, 0.3), (0.4, 2.9)),
            ] {
                let (a, b) = (Point2::new(a.0, a.1), Point2::new(b.0, b.1));
                let [from, to] = [a, b].map(|p| surface.nearest(&shape.place(&p).cast(), None).unwrap());
                let line = path(&surface, &from, &to, &Job::silent()).unwrap();
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
    let shape = Rolled::Plane;
    for (jitter, seed) in [(0.0, 1), (0.4, 2)] {
        let (_, surface) = shape.surface::<Surface>(20.0, 20.0, 1.0, jitter, seed);
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
            let line = path(&surface, &from, &to, &Job::silent()).unwrap();
            assert!((line.length_mm() - (b - a).norm()).abs() < 1e-4, "{a} {b} {} {:?}", line.length_mm(), line);
        }
    }
}

/// Great circles: R·acos(n₁·n₂), 78.5398 mm for a right angle on R = 50.
#[test]
fn is_a_great_circle_on_a_sphere() {
    let shape = Rolled::Sphere { radius_mm: 50.0 };
    let (_, surface) = shape.surface::<Surface>(110.0, 110.0, 1.0, 0.35, 3);
    let quarter = 50.0 * std::f64::consts::FRAC_PI_4;
    let ends = [((-quarter, 0.0), (quarter, 0.0)), ((-30.0, -25.0), (35.0, -10.0)), ((20.0, -30.0), (20.0, 33.0))];
    for (i, (a, b)) in ends.into_iter().enumerate() {
        let [a, b] = [a, b].map(|(x, y)| shape.place(&Point2::new(x, y)));
        let [from, to] = [a, b].map(|p| surface.nearest(&p.cast(), None).unwrap());
        let found = path(&surface, &from, &to, &Job::silent()).unwrap().length_mm();
        let truth = 50.0 * a.coords.angle(&b.coords);
        if i == 0 {
            assert!((truth - 78.5398).abs() < 1e-4);
        }
        assert!((found / truth - 1.0).abs() < 0.005, "{found} for {truth}");
    }
}

/// A whole cone between two rims, from its development: √(s₁² + s₂² − 2 s₁ s₂ cos(Δθ sin α)). For the median male
/// forearm (circumferences 310 and 176 mm over 267 mm) from the big rim to the opposite point of the small one
/// 292.0836 mm; on a cylinder of R = 40, a quarter round and 100 mm along, 118.1010 mm.
#[test]
fn runs_round_whole_limbs() {
    for (r, top, height, turn, truth) in [
        (49.338, 28.011, 267.0, std::f64::consts::PI, 292.0836),
        (40.0, 40.0, 100.0, std::f64::consts::FRAC_PI_2, 118.1010),
    ] {
        let (around, along) = (200_u32, (height / 1.5) as u32);
        let place = |u: f64, v: f64| {
            let radius = r + (top - r) * v;
            nalgebra::Point3::new(radius * u.cos(), radius * u.sin(), height * v)
        };
        let angle = |i: u32, j: u32| std::f64::consts::TAU * (f64::from(i) + 0.37 * f64::from(j)) / f64::from(around);
        let points = (0..=along)
            .flat_map(|j| (0..around).map(move |i| (i, j)))
            .map(|(i, j)| place(angle(i, j), f64::from(j) / f64::from(along)).cast())
            .collect();
        let mut triangles = Vec::new();
        for j in 0..along {
            for i in 0..around {
                let (a, b) = (j * around + i, j * around + (i + 1) % around);
                triangles.extend([[a, b, b + around], [a, b + around, a + around]]);
            }
        }
        let surface = mesh::Surface::new(mesh::Mesh::new(points, triangles));
        let [from, to] = [place(0.3, 0.0), place(0.3 + turn, 1.0)].map(|p| surface.nearest(&p.cast(), None).unwrap());
        let found = path(&surface, &from, &to, &Job::silent()).unwrap().length_mm();
        println!("{found} for {truth}");
        assert!((found / truth - 1.0).abs() < 0.005, "{found} for {truth}");
    }
}
