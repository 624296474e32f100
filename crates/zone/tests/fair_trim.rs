//! A trim line made fair on a cylinder, measured in its development, where every distance is a straight one.

use std::f64::consts::TAU;

use mesh::{Job, Surface};
use nalgebra::{Point2, Point3};
use test_shapes::even_tube;
use zone::{Dab, ExtraRegion, RegionKind, Source, Zone, ZoneSettings};

const RADIUS_MM: f64 = 60.0;

fn place(p: &Point2<f64>) -> Point3<f32> {
    let (s, c) = (p.x / RADIUS_MM).sin_cos();
    Point3::new(RADIUS_MM * c, RADIUS_MM * s, p.y).cast()
}

fn unrolled(p: &Point3<f32>) -> Point2<f64> {
    let p = p.cast::<f64>();
    Point2::new(RADIUS_MM * p.y.atan2(p.x), p.z)
}

/// A circle of 40 mm whose radius waves by 0.8 mm thirteen times, and what is kept clear of it.
fn wavy(tolerance_mm: f32, clear: Option<(Point2<f64>, f32)>) -> Zone {
    let skin: Surface = even_tube(RADIUS_MM, 160.0, 1.2).build();
    let points_mm = (0..400)
        .map(|i| TAU * f64::from(i) / 400.0)
        .map(|angle| place(&(Point2::new(angle.cos(), angle.sin()) * wavy_radius(angle))))
        .collect();
    let sources = vec![Source::Line { points_mm, inside_mm: None }];
    let regions = clear.into_iter().map(|(middle, radius_mm)| ExtraRegion {
        kind: RegionKind::KeepClear { margin_mm: 0.0 },
        sources: vec![Source::Strokes { dabs: vec![Dab { at_mm: place(&middle), radius_mm, remove: false }] }],
    });
    let settings = ZoneSettings { sources, tolerance_mm, regions: regions.collect(), ..ZoneSettings::default() };
    zone::make(&skin, &settings, &Job::silent()).expect("a zone")
}

fn wavy_radius(angle: f64) -> f64 {
    40.0 + 0.8 * (13.0 * angle).sin()
}

#[test]
fn a_wavy_line_becomes_a_circle_within_the_tolerance() {
    let zone = wavy(1.5, None);
    let trim = zone.trim.unwrap();
    assert!(trim.farthest_mm <= 1.5 && trim.tightest_mm > 30.0, "{trim:?}");
    let radii: Vec<f64> = zone.covered.edges[0].iter().map(|p| unrolled(p).coords.norm()).collect();
    let mean = radii.iter().sum::<f64>() / radii.len() as f64;
    let rms = (radii.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / radii.len() as f64).sqrt();
    // The waves of 0.57 mm root mean square are gone.
    assert!(rms < 0.1 && (mean - 40.0).abs() < 0.5, "{rms} {mean}");
}

#[test]
fn without_a_tolerance_the_line_is_as_it_was_drawn() {
    let zone = wavy(0.0, None);
    assert_eq!(zone.trim, None);
    for p in zone.covered.edges[0].iter().map(unrolled) {
        assert!((p.coords.norm() - wavy_radius(p.y.atan2(p.x))).abs() < 0.1, "{p}");
    }
}

/// A disc of 12 mm bites into the edge; the line passes it in a bay without the horns that the bite has.
#[test]
fn a_keep_clear_region_is_passed_in_a_bay_and_never_entered() {
    let middle = Point2::new(40.0, 0.0);
    let (drawn, fair) = (wavy(0.0, Some((middle, 12.0))), wavy(1.5, Some((middle, 12.0))));
    for p in fair.covered.edges[0].iter().map(unrolled) {
        assert!((p - middle).norm() > 12.0 - 0.15, "{p} is {} mm from the middle", (p - middle).norm());
    }
    let trim = fair.trim.unwrap();
    assert!(trim.farthest_mm <= 1.55 && trim.tightest_mm > 4.0, "{trim:?}");
    // The line turns back at the horns; none is left.
    let turned = |zone: &Zone| {
        let line: Vec<Point2<f64>> = zone.covered.edges[0].iter().map(unrolled).collect();
        let at = |i: usize| line[i % line.len()];
        let sharpest = (0..line.len()).map(|i| {
            // Over about five millimetres on both sides.
            let [a, b, c] = [0, 8, 16].map(|k| at(i + k));
            (b - a).angle(&(c - b))
        });
        sharpest.fold(0.0, f64::max)
    };
    assert!(turned(&fair) < 0.75 * turned(&drawn), "{} {}", turned(&fair), turned(&drawn));
}
