//! Bony points on surfaces with a closed form.
#![allow(clippy::unwrap_used)] // Clippy takes helpers of tests for ordinary code.

use mesh::{Cancelled, Job, Surface};
use nalgebra::{Point2, Point3, Vector3};
use test_shapes::patches::{Rolled, flat};
use test_shapes::{Shape, even_frustum, even_tube, icosphere, plane};
use zone::landmarks::{BonyPoint, bony_points};
use zone::{Dab, RegionKind, Source, Zone, ZoneSettings};

const TUBE: Rolled = Rolled::Cylinder { radius_mm: 40.0 };

fn found(skin: &Surface, zone: Option<&Zone>) -> Vec<BonyPoint> {
    bony_points(skin, zone, &Job::silent()).unwrap()
}

/// The point `height` over the place of `p` on a plane or tube.
fn over(base: Rolled, p: &Point2<f64>, height: f64) -> Point3<f32> {
    let on = base.place(p);
    let up = if base == Rolled::Plane { Vector3::z() } else { Vector3::new(on.x, on.y, 0.0).normalize() };
    (on + up * height).cast()
}

/// An uneven triangulation of 150 × 150 mm laid on `base`, raised by `height(u, v)` along its normals.
fn raised(base: Rolled, height: impl Fn(&Point2<f64>) -> f64) -> Surface {
    let (points, triangles) = flat(150.0, 150.0, 1.2, 0.3, 9);
    Shape { points: points.iter().map(|p| over(base, p, height(p)).into()).collect(), triangles }.build()
}

/// A Gaussian bulge of a height and a standard deviation.
fn gauss(at: Point2<f64>, high: f64, deviation: f64) -> impl Fn(&Point2<f64>) -> f64 {
    move |p| high * (-(p - at).norm_squared() / (2.0 * deviation * deviation)).exp()
}

#[test]
fn a_gaussian_bulge_is_found_in_its_place_with_its_size() {
    let at = Point2::new(11.3, -7.9);
    for (base, high, deviation) in
        [(Rolled::Plane, 3.0, 6.0), (Rolled::Plane, 5.0, 10.0), (TUBE, 2.5, 6.0), (TUBE, 3.0, 7.5), (TUBE, 6.0, 10.0)]
    {
        let skin = raised(base, gauss(at, high, deviation));
        let points = found(&skin, None);
        let [bulge] = points[..] else { panic!("{points:?} on {base:?}") };
        let away = (bulge.at_mm - over(base, &at, high)).norm();
        // A bulge of (1 − (s/r)²)² turns hollow at r/√3, a Gaussian at its deviation. Along the tube a straight edge lies
        // near = 1 − exp(−3/2) of the height below the top at √3 deviations and far = 1 − exp(−6) at twice that; a limb
        // that curved would give (far − near)/3 of near.
        let [near, far] = [1.5_f64, 6.0].map(|x| high * (1.0 - (-x).exp()));
        let (radius, height) = (3_f64.sqrt() * deviation, near - (far - near) / 3.0);
        let off = [f64::from(bulge.radius_mm) / radius, f64::from(bulge.height_mm) / height].map(|share| share - 1.0);
        println!("{base:?}, {high} high, deviation {deviation}: {away:.2} mm off, radius and height {off:.3?}");
        assert!(away < 1.0, "{bulge:?}");
        assert!(off[0].abs() < 0.3 && off[1].abs() < 0.3, "{bulge:?}: {off:?}");
    }
}

#[test]
fn the_sharper_of_two_comes_first() {
    let (low, high) = (Point2::new(-30.0, 20.0), Point2::new(25.0, -15.0));
    let skin = raised(TUBE, |p| gauss(low, 2.5, 7.0)(p) + gauss(high, 5.0, 7.0)(p));
    let points = found(&skin, None);
    assert_eq!(points.len(), 2);
    for (point, at) in points.iter().zip([high, low]) {
        assert!((point.at_mm - over(TUBE, &at, 3.0)).norm() < 3.0, "{points:?}");
    }
}

#[test]
fn plain_forms_have_none() {
    let noise = |shape: Shape| shape.noisy(0.1, 3).build::<Surface>();
    for (name, skin) in [
        ("ball", noise(icosphere(40.0, 5))),
        ("finger tip", noise(icosphere(9.0, 4))),
        ("tube", noise(even_tube(35.0, 200.0, 1.5))),
        ("narrow tube", noise(even_tube(14.0, 120.0, 1.2))),
        ("cone", noise(even_frustum([55.0, 35.0], 200.0, 1.6))),
        ("sheet", noise(plane(120, 120, 1.0))),
    ] {
        assert_eq!(found(&skin, None), [], "{name}");
    }
}

/// As the edge of the shin bone, straight or with knots every 20 mm.
#[test]
fn a_ridge_is_no_point_nor_a_string_of_them() {
    let across = |p: &Point2<f64>| (-p.x * p.x / (2.0 * 36.0)).exp();
    assert_eq!(found(&raised(TUBE, |p| 4.0 * across(p)), None), []);
    let knots = |p: &Point2<f64>| (4.0 + 0.25 * (std::f64::consts::TAU * p.y / 20.0).cos()) * across(p);
    assert_eq!(found(&raised(TUBE, knots), None), []);
}

#[test]
fn only_what_reaches_into_the_zone_is_offered_and_its_relief_covers_it() {
    let at = Point2::new(0.0, 10.0);
    let skin = raised(TUBE, gauss(at, 4.0, 8.0));
    let make = |away: f64, regions| {
        let at_mm = TUBE.place(&Point2::new(at.x, at.y - away)).cast();
        let dabs = vec![Dab { at_mm, radius_mm: 20.0, remove: false }];
        let settings = ZoneSettings { sources: vec![Source::Strokes { dabs }], regions, ..Default::default() };
        zone::make(&skin, &settings, &Job::silent()).unwrap()
    };
    // Its foot is 14 mm from its middle.
    assert_eq!(found(&skin, Some(&make(45.0, vec![]))), []);
    let points = found(&skin, Some(&make(25.0, vec![])));
    let [bulge] = points[..] else { panic!("{points:?}") };
    let zone = make(0.0, vec![bulge.relief(RegionKind::RELIEF)]);
    let [relief] = &zone.reliefs[..] else { panic!("{:?}", zone.reliefs.len()) };
    assert_eq!((relief.height_mm, relief.falloff_mm), (3.0, 10.0));
    for p in &skin.mesh().points {
        let hit = skin.nearest(p, None).unwrap();
        let (away, depth) = ((p - bulge.at_mm).norm(), skin.interpolate(&relief.region.distance_mm, &hit));
        assert!(depth > 0.0 || away > bulge.radius_mm, "{p} is {away} mm from {bulge:?}");
    }
}

#[test]
fn it_is_the_same_on_one_thread_and_stops_on_request() {
    let skin =
        raised(TUBE, |p| gauss(Point2::new(5.0, 3.0), 4.0, 7.0)(p) + 0.3 * (p.x * 0.7).sin() * (p.y * 0.9).cos());
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap().install(|| found(&skin, None));
    let four = rayon::ThreadPoolBuilder::new().num_threads(4).build().unwrap().install(|| found(&skin, None));
    assert!(!one.is_empty());
    assert_eq!(one, four);
    let job = Job::silent();
    job.cancel();
    assert_eq!(bony_points(&skin, None, &job), Err(Cancelled));
}
