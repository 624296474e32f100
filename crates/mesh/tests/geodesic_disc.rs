//! What a brush touches, against closed forms and against the library's own careful distances.

use mesh::geodesic::{GeodesicDisc, WeightedPoint, distance_from_points};
use mesh::{Hit, Job, Mesh, Surface};
use nalgebra::Point3;

/// A tube of radius `radius` from z = 0 up, open at both ends, with points every `step` about.
fn tube(radius: f32, length: f32, step: f32) -> Mesh {
    let (around, rows) = ((std::f32::consts::TAU * radius / step).round(), (length / step).round());
    test_shapes::tube(radius.into(), [0.0, (rows * step).into()], around as u32, rows as u32 + 1).build()
}

fn flat(side: u32, step: f32, z: f32) -> Mesh {
    test_shapes::plane(side - 1, side - 1, step.into()).moved([0.0, 0.0, z]).build()
}

fn on(surface: &Surface, x: f32, y: f32, z: f32) -> Hit {
    surface.nearest(&Point3::new(x, y, z), None).expect("the surface has triangles")
}

#[test]
fn on_the_flat_it_is_a_disc_with_straight_distances() {
    let surface = Surface::new(flat(61, 1.0, 0.0));
    let from = on(&surface, 30.3, 29.8, 0.0);
    let mut disc = GeodesicDisc::new(&surface);
    let found = disc.within(&surface, &[from], 12.5).to_vec();
    let inside = surface.mesh().points.iter().filter(|p| nalgebra::distance(*p, &from.point) <= 12.5).count();
    assert_eq!(found.len(), inside);
    for (v, d) in &found {
        let exact = nalgebra::distance(&surface.mesh().points[*v as usize], &from.point);
        assert!((d - exact).abs() < 1e-3 * exact + 1e-4, "{d} for {exact}");
    }
}

/// A tube unrolls: the distance is that of the flat strip, √(z² + (rθ)²).
#[test]
fn round_a_tube_it_follows_the_unrolled_distance_within_1_percent() {
    let radius = 30.0_f32;
    let surface = Surface::new(tube(radius, 80.0, 1.0));
    let from = on(&surface, radius, 0.4, 40.2);
    let mut disc = GeodesicDisc::default();
    let found = disc.within(&surface, &[from], 25.0);
    let area = found.len() as f32;
    assert!((area / (std::f32::consts::PI * 625.0) - 1.0).abs() < 0.02, "{area} points of 1 mm² each");
    let turn = f32::atan2(from.point.y, from.point.x);
    for (v, d) in found {
        let p = surface.mesh().points[*v as usize];
        let exact = (p.z - from.point.z).hypot(radius * (p.y.atan2(p.x) - turn));
        assert!((d - exact).abs() < 0.01 * exact + 0.01, "{d} for {exact} at {p}");
    }
}

#[test]
fn it_never_jumps_to_skin_that_is_near_only_through_the_air() {
    let mut two = flat(41, 1.0, 0.0);
    let other = flat(41, 1.0, 1.5);
    let shift = two.points.len() as u32;
    two.points.extend(other.points);
    two.triangles.extend(other.triangles.iter().map(|t| t.map(|v| v + shift)));
    let surface = Surface::new(two);
    let from = on(&surface, 20.2, 20.1, 0.0);
    let mut disc = GeodesicDisc::new(&surface);
    assert!(disc.within(&surface, &[from], 10.0).iter().all(|(v, _)| *v < shift));
}

#[test]
fn used_again_it_answers_as_if_new() {
    let (tube, sheet) = (Surface::new(tube(30.0, 60.0, 1.0)), Surface::new(flat(30, 1.0, 0.0)));
    let mut used = GeodesicDisc::new(&tube);
    let hits = [on(&tube, 30.0, 0.0, 20.0), on(&tube, 28.0, 9.0, 24.0)];
    let first = used.within(&tube, &hits, 14.0).to_vec();
    assert!(!used.within(&sheet, &[on(&sheet, 9.0, 9.0, 0.0)], 6.0).is_empty());
    used.within(&tube, &[on(&tube, -30.0, 0.0, 30.0)], 20.0);
    assert_eq!(used.within(&tube, &hits, 14.0), first);
    assert_eq!(GeodesicDisc::default().within(&tube, &hits, 14.0), first);
    // Each place is the middle of a dab of its own.
    for hit in hits {
        let alone = GeodesicDisc::default().within(&tube, &[hit], 14.0).to_vec();
        assert!(alone.iter().all(|(v, _)| first.iter().any(|(w, _)| w == v)));
    }
    assert!(used.within(&tube, &hits, f32::NAN).is_empty());
    let nowhere = Hit { triangle: u32::MAX, ..hits[0] };
    assert!(used.within(&tube, &[nowhere], 14.0).is_empty());
}

#[test]
fn on_a_bumpy_skin_it_stays_within_3_percent_of_the_careful_distance() {
    let mut mesh = tube(35.0, 90.0, 1.0);
    for p in &mut mesh.points {
        let swell = 1.0 + 0.08 * (0.13 * p.z).sin() + 0.05 * (3.0 * p.y.atan2(p.x)).cos();
        (p.x, p.y) = (p.x * swell, p.y * swell);
    }
    let surface = Surface::new(mesh);
    let from = on(&surface, 36.0, 3.0, 45.0);
    let careful =
        distance_from_points(&surface, &[WeightedPoint { at: from, start_mm: 0.0 }], 40.0, &Job::silent()).unwrap();
    let mut disc = GeodesicDisc::new(&surface);
    let found = disc.within(&surface, &[from], 25.0);
    assert!(found.len() > 1500, "{}", found.len());
    for (v, d) in found {
        let exact = careful[*v as usize];
        assert!((d - exact).abs() < 0.03 * exact + 0.02, "{d} for {exact}");
    }
}

#[test]
fn in_shares_it_comes_to_the_same_from_the_middle_outward() {
    let surface = Surface::new(tube(30.0, 80.0, 1.0));
    let hits = [on(&surface, 30.0, 0.4, 40.2), on(&surface, 0.0, 30.0, 30.0)];
    let mut whole = GeodesicDisc::default();
    let mut expected = whole.within(&surface, &hits, 20.0).to_vec();
    let mut shares = GeodesicDisc::default();
    shares.begin(&surface, &hits, 20.0);
    let mut best = std::collections::BTreeMap::new();
    let (mut calls, mut reached) = (0, 0.0_f32);
    loop {
        let share = shares.go_on(&surface, 100).to_vec();
        assert!(share.len() <= 100);
        // Distances that improve late lie a little farther back.
        assert!(share.iter().all(|(_, d)| *d > reached - 2.0), "{reached}");
        for (v, d) in &share {
            best.entry(*v).and_modify(|b: &mut f32| *b = b.min(*d)).or_insert(*d);
            reached = reached.max(*d);
        }
        calls += 1;
        if shares.is_done() {
            break;
        }
    }
    assert!(calls > 20, "{calls}");
    expected.sort_by_key(|(v, _)| *v);
    assert_eq!(best.into_iter().collect::<Vec<_>>(), expected);
}
