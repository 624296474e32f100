//! No coordinate makes a step panic or run on: from the least `f32` to the greatest, infinite, or none at all.
#![allow(clippy::unwrap_used)] // Clippy takes helpers of tests for ordinary code.

use mesh::geodesic::{GeodesicDisc, WeightedPoint, contour, distance_from_points, path};
use mesh::read::survey;
use mesh::sound::{SoundLimits, sound};
use mesh::{Adjacency, Job, Mesh, SpatialHash, Surface, repair, simplify, solid, write};
use nalgebra::{Point3, Vector3};
use proptest::prelude::*;
use std::hint::black_box;

/// Coordinates that overflow when added, squared, or turned into a whole number, and ordinary ones.
fn finite() -> impl Strategy<Value = f32> {
    prop_oneof![
        3 => -100.0_f32..100.0,
        1 => prop::sample::select(vec![0.0, -0.0, 1e-45, 1e-20, 1e9, -3e9, 1e19, -1e19, 1e22, f32::MAX, -f32::MAX]),
    ]
}

fn any_number() -> impl Strategy<Value = f32> {
    prop_oneof![9 => finite(), 1 => prop::sample::select(vec![f32::NAN, f32::INFINITY, f32::NEG_INFINITY])]
}

/// Up to forty triangles on up to twenty points, in any way: folded, doubled, crossing, without area.
fn soup(number: impl Strategy<Value = f32>) -> impl Strategy<Value = Mesh> {
    let points = prop::collection::vec(prop::array::uniform3(number), 3..20);
    (points, prop::collection::vec(prop::array::uniform3(0_u32..1000), 1..40)).prop_map(|(points, triangles)| {
        let count = points.len() as u32;
        Mesh::from((points, triangles.into_iter().map(|t| t.map(|v| v % count)).collect()))
    })
}

/// Everything that takes a mesh as it comes.
fn look(mesh: &Mesh) {
    let job = Job::silent();
    black_box(survey(mesh, &job).unwrap().warnings());
    black_box(solid::check(mesh, &job).unwrap().faults());
    black_box(sound(mesh, &SoundLimits::default(), &job).unwrap().faults());
    let adjacency = Adjacency::new(mesh);
    black_box(repair::components(mesh, &adjacency, &job).unwrap());
    black_box(repair::noise_mm(mesh, &adjacency, &job).unwrap());
    black_box(repair::support_plane(mesh, &job).unwrap());
    black_box(repair::median_edge_mm(mesh));
    black_box(repair::refined_count(mesh, 1.0));
    let hash = SpatialHash::of(2.0, mesh.points.iter().copied());
    let surface = Surface::new(mesh.clone());
    // A dozen places, as some answers take a walk over the whole surface.
    for p in mesh.points.iter().step_by(mesh.points.len() / 12 + 1) {
        black_box(hash.within(p, 3.0));
        black_box(surface.ray(p, &Vector3::new(1.0, 0.5, 0.1), f32::MAX));
        black_box(surface.ray(&Point3::origin(), &p.coords, 1e9));
        let Some(hit) = surface.nearest(p, None) else { continue };
        black_box(surface.signed_distance(p, &hit));
        black_box(surface.normal_at(&hit));
        GeodesicDisc::default().within(&surface, &[hit], 5.0);
        let from = [WeightedPoint { at: hit, start_mm: 0.0 }];
        let far = distance_from_points(&surface, &from, 50.0, &job).unwrap();
        assert_eq!(far.len(), mesh.points.len());
        black_box(contour(&surface, &far, 10.0));
        if let Some(other) = surface.nearest(&Point3::origin(), None) {
            black_box(path(&surface, &hit, &other, &job).is_ok());
        }
    }
    write::stl_binary(mesh, "", &mut Vec::new()).unwrap();
}

/// The steps of a repair, one after the other.
fn mend(mut mesh: Mesh) -> Mesh {
    let job = Job::silent();
    repair::drop_bad_faces(&mut mesh, &job).unwrap();
    repair::weld(&mut mesh, 0.01, &job).unwrap();
    repair::drop_bad_faces(&mut mesh, &job).unwrap();
    repair::make_manifold(&mut mesh, &job).unwrap();
    repair::orient(&mut mesh, &job).unwrap();
    assert_eq!(Adjacency::new(&mesh).non_manifold_edges, 0);
    repair::clip_by_plane(&mut mesh, &Point3::new(1.0, 2.0, 3.0), &Vector3::new(0.6, 0.0, 0.8));
    let adjacency = Adjacency::new(&mesh);
    let loops = adjacency.boundary_loops(&mesh);
    repair::fill_holes(&mut mesh, &adjacency, &loops, &job).unwrap();
    let measured = mesh.points.len();
    repair::smooth(&mut mesh, 1.0, measured, &job).unwrap();
    let size = mesh.bounds().map_or(1.0, |(lo, hi)| (hi.cast::<f64>() - lo.cast::<f64>()).norm());
    repair::refine(&mut mesh, (size / 16.0) as f32, &job).unwrap();
    mesh
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn any_triangles_are_looked_at_without_a_panic(mesh in soup(any_number())) {
        look(&mesh);
    }

    #[test]
    fn any_finite_triangles_are_mended_without_a_panic(mesh in soup(finite())) {
        look(&mend(mesh));
    }

    #[test]
    fn what_is_no_number_is_dropped_first(mesh in soup(any_number())) {
        let mut mesh = mesh;
        repair::drop_bad_faces(&mut mesh, &Job::silent()).unwrap();
        repair::drop_unused_points(&mut mesh);
        prop_assert!(mesh.points.iter().all(|p| p.iter().all(|x| x.is_finite())));
        look(&mend(mesh));
    }

    #[test]
    fn closed_bodies_of_any_size_are_simplified(scale in finite(), to in prop::array::uniform3(finite())) {
        let mut mesh: Mesh = test_shapes::icosphere(10.0, 3).scaled(scale).build();
        let away = |x: f32, by: f32| (x + by).clamp(-f32::MAX, f32::MAX);
        for p in &mut mesh.points {
            *p = Point3::new(away(p.x, to[0]), away(p.y, to[1]), away(p.z, to[2]));
        }
        let locked = vec![false; mesh.points.len()];
        let simpler = simplify::simplify(&mesh, 0.05, &locked, &Job::silent()).unwrap().mesh;
        prop_assert!(simpler.triangles.len() <= mesh.triangles.len());
        solid::check(&simpler, &Job::silent()).unwrap();
    }
}
