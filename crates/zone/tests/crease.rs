//! Creases on a cylinder, where every distance is that of the unrolled plane.
#![allow(clippy::unwrap_used)] // Clippy takes helpers of tests for ordinary code.

use mesh::{Job, Surface};
use nalgebra::{Point2, Point3, Vector2};
use test_shapes::even_tube;
use test_shapes::patches::{Rolled, plane_distance};
use zone::landmarks::{Crease, NEAR_END_MM, crease_region, near_open_end};
use zone::{Dab, ExtraRegion, Source, Zone, ZoneError, ZoneSettings};

const RADIUS: f64 = 40.0;
const TUBE: Rolled = Rolled::Cylinder { radius_mm: RADIUS };

fn tube() -> Surface {
    even_tube(RADIUS, 160.0, 1.2).build()
}

fn place(u: f64, v: f64) -> Point3<f32> {
    TUBE.place(&Point2::new(u, v)).cast()
}

fn unrolled(p: &Point3<f32>) -> Point2<f64> {
    let p = p.cast::<f64>();
    Point2::new(RADIUS * p.y.atan2(p.x), p.z)
}

/// A round zone.
fn zone(skin: &Surface, at: Point3<f32>, radius_mm: f32, regions: Vec<ExtraRegion>) -> Zone {
    let dabs = vec![Dab { at_mm: at, radius_mm, remove: false }];
    let sources = vec![Source::Strokes { dabs }];
    let settings = ZoneSettings { sources, regions, tolerance_mm: 0.0, ..Default::default() };
    zone::make(skin, &settings, &Job::silent()).unwrap()
}

#[test]
fn the_region_keeps_the_zone_at_the_distance() {
    let skin = tube();
    // A straight line that passes (0, 0) at 24.6 mm, and so cuts a little off the zone of 25 mm round it.
    let (along, out) = (Vector2::new(-0.6, 0.8), Vector2::new(0.8, 0.6));
    let ends = [-30.0, 30.0].map(|s| Point2::from(out * 24.6 + along * s));
    let points = ends.map(|p| place(p.x, p.y));
    for distance in [1.0_f32, 4.0, 10.0, 15.0] {
        let region = crease_region(&skin, &points, distance, &Job::silent()).unwrap();
        let made = zone(&skin, place(0.0, 0.0), 25.0, vec![region]);
        let from_line = |p: &Point3<f32>| plane_distance(&unrolled(p), &ends, false);
        let nearest = made.covered.edges.iter().flatten().map(from_line).fold(f64::INFINITY, f64::min);
        println!("kept {nearest:.2} mm off for {distance}");
        assert!((nearest - f64::from(distance)).abs() < 0.3, "{nearest} for {distance}");
        // Where the edge follows the region, not the circle, it is that far all along.
        let cut = made.covered.edges.iter().flatten().filter(|p| unrolled(p).coords.norm() < 24.8);
        assert!(cut.map(from_line).all(|d| (d - f64::from(distance)).abs() < 0.4), "{distance}");
    }
    for distance in [0.0, 51.0, f32::NAN] {
        let refused = crease_region(&skin, &points, distance, &Job::silent());
        assert!(matches!(refused, Err(ZoneError::OutOfRange { .. })), "{distance}");
    }
}

#[test]
fn it_says_where_the_zone_crosses_or_comes_too_near() {
    let skin = tube();
    let made = zone(&skin, place(0.0, 0.0), 20.0, vec![]);
    let nearness = |u: f64, distance: f32| {
        let crease = Crease::across(&skin, &[place(u, -30.0), place(u, 30.0)], &Job::silent()).unwrap();
        crease.nearness(&skin, &made.covered, distance, &Job::silent()).unwrap()
    };
    // The circle of 20 mm ends 10 mm before u = 30, at (20, 0).
    let near = nearness(30.0, 12.0).unwrap();
    assert!((near.distance_mm - 10.0).abs() < 0.2 && !near.crosses(), "{near:?}");
    assert!((unrolled(&near.at_mm) - Point2::new(20.0, 0.0)).norm() < 3.0, "{near:?}");
    assert_eq!(nearness(30.0, 9.5), None);
    // At u = 5 it lies deepest at (5, 0).
    let crossed = nearness(5.0, 1.0).unwrap();
    assert!(crossed.crosses() && (unrolled(&crossed.at_mm) - Point2::new(5.0, 0.0)).norm() < 1.0, "{crossed:?}");
}

#[test]
fn a_crease_round_the_limb_is_the_cut_of_the_plane_through_two_points() {
    let skin = tube();
    let crease = Crease::round(&skin, [place(-20.0, 12.0), place(25.0, 12.0)], &Job::silent()).unwrap();
    let [ring] = &crease.lines[..] else { panic!("{}", crease.lines.len()) };
    assert!(ring.closed && ring.points.iter().all(|p| (p.z - 12.0).abs() < 0.01));
    assert!((ring.length_mm() / (std::f64::consts::TAU * RADIUS) - 1.0).abs() < 1e-3);
    // Through points 90 degrees apart, 30 mm of height between them: the plane rises by 30 mm over the chord of √2 R.
    let (a, b) = (place(0.0, -15.0), place(RADIUS * std::f64::consts::FRAC_PI_2, 15.0));
    let crease = Crease::round(&skin, [a, b], &Job::silent()).unwrap();
    let [ring] = &crease.lines[..] else { panic!("{}", crease.lines.len()) };
    for p in &ring.points {
        let along = f64::from(p.y - p.x) / 2_f64.sqrt();
        assert!((f64::from(p.z) - along * 30.0 / (2_f64.sqrt() * RADIUS)).abs() < 0.05, "{p}");
    }
    // As a region it parts the tube: what is painted on both sides is in two pieces.
    let region = crease.region(8.0).unwrap();
    let middle = skin.nearest(&Point3::new(28.0, 28.0, 0.0), None).unwrap().point;
    let dabs = vec![Dab { at_mm: middle, radius_mm: 30.0, remove: false }];
    let sources = vec![Source::Strokes { dabs }];
    let settings = ZoneSettings { sources, regions: vec![region], ..Default::default() };
    let made = zone::make(&skin, &settings, &Job::silent());
    assert!(matches!(&made, Err(ZoneError::Pieces { pieces }) if pieces.len() == 2), "{made:?}");
    let same = Crease::round(&skin, [a, a], &Job::silent());
    assert!(matches!(same, Err(ZoneError::Line { .. })), "{same:?}");
}

#[test]
fn it_says_where_the_zone_comes_near_the_end_of_the_scan() {
    let skin = tube();
    let near = |v: f64| {
        near_open_end(&skin, &zone(&skin, place(0.0, v), 20.0, vec![]).covered, NEAR_END_MM, &Job::silent()).unwrap()
    };
    // The tube ends at 80 mm; the zone reaches 20 mm from its middle.
    assert_eq!(near(49.0), None);
    let end = near(52.0).unwrap();
    assert!((end.distance_mm - 8.0).abs() < 0.2 && !end.crosses(), "{end:?}");
    assert!((end.at_mm - place(0.0, 72.0)).norm() < 3.0, "{end:?}");
}
