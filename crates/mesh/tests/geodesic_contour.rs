//! Lines of equal value.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // Clippy takes helpers of tests for ordinary code.

use mesh::geodesic::{contour, sides};
use mesh::{Job, Surface};
use nalgebra::Point2;
use test_shapes::patches::Rolled;

#[test]
fn a_circle_has_its_length_and_its_inside_on_the_left() {
    let (flat, surface) = Rolled::Plane.surface::<Surface>(60.0, 60.0, 1.0, 0.4, 3);
    let values: Vec<f32> = flat.iter().map(|p| (20.0 - p.coords.norm()) as f32).collect();
    let found = contour(&surface, &values, 0.0);
    assert_eq!(found.len(), 1);
    assert!(!found[0].along_border());
    let circumference = std::f64::consts::TAU * 20.0;
    assert!((found[0].line.length_mm() / circumference - 1.0).abs() < 2e-3);
    let doubled: f64 = found[0].line.segments().map(|(a, b, _)| f64::from(a.x * b.y - a.y * b.x)).sum();
    assert!(doubled > 0.0, "runs clockwise");
    // The two sides of the line are those of the values.
    let other = sides(&surface, &[found[0].line.clone()], &Job::silent()).unwrap().unwrap();
    for (v, value) in values.iter().enumerate() {
        assert_eq!(other[v], *value >= 0.0, "at {:?}", flat[v]);
    }
}

#[test]
fn a_half_plane_is_closed_along_the_border() {
    let (flat, surface) = Rolled::Plane.surface::<Surface>(20.0, 10.0, 1.0, 0.3, 3);
    let values: Vec<f32> = flat.iter().map(|p| p.x as f32 - 2.25).collect();
    let found = contour(&surface, &values, 0.0);
    assert_eq!(found.len(), 1);
    assert!(found[0].along_border());
    assert!((found[0].line.length_mm() - 2.0 * (7.75 + 10.0)).abs() < 1e-4);
    let inner = found[0].inner_parts();
    assert_eq!(inner.len(), 1);
    assert!((inner[0].length_mm() - 10.0).abs() < 1e-4);
    assert!(inner[0].points.iter().all(|p| (p.x - 2.25).abs() < 1e-4));
}

#[test]
fn values_exactly_at_the_level_leave_no_gap() {
    let (flat, surface) = Rolled::Plane.surface::<Surface>(20.0, 20.0, 1.0, 0.0, 3);
    let square = |p: &Point2<f64>| (5.0 - p.x.abs().max(p.y.abs())) as f32;
    let found = contour(&surface, &flat.iter().map(square).collect::<Vec<_>>(), 0.0);
    assert_eq!(found.len(), 1);
    assert!((found[0].line.length_mm() - 40.0).abs() < 1e-4);
}
