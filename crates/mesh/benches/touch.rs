//! Times what a pointer over the limb needs, on a synthetic limb of a million triangles: the first hit of its ray, and
//! the vertices under a brush.
//!
//! `cargo bench -p mesh --bench touch`; parry3d casts the same rays for comparison.

use mesh::geodesic::{GeodesicDisc, SurfaceLine, distance_to_lines};
use mesh::{Job, Mesh, Surface};
use nalgebra::{Point3, Vector3};
use parry3d::math::Vec3;
use parry3d::query::{Ray, RayCast};
use parry3d::shape::TriMesh;
use rand_pcg::Pcg32;
use rand_pcg::rand_core::{Rng, SeedableRng};
use std::hint::black_box;
use std::time::Instant;

#[global_allocator]
static MEMORY: peak_alloc::PeakAlloc = peak_alloc::PeakAlloc;

/// Rays in one run.
const RAYS: usize = 100_000;

/// Seconds of the best of five runs.
fn best<T>(mut work: impl FnMut() -> T) -> f64 {
    (0..5)
        .map(|_| {
            let start = Instant::now();
            black_box(work());
            start.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

#[allow(clippy::print_stdout)]
fn main() {
    let mesh: Mesh = test_shapes::limb(500).build();
    let theirs = TriMesh::new(mesh.points.iter().map(|p| Vec3::new(p.x, p.y, p.z)).collect(), mesh.triangles.clone())
        .expect("the limb has triangles");
    let surface = Surface::new(mesh);
    println!("limb: {} triangles", surface.mesh().triangles.len());

    let mut chance = Pcg32::seed_from_u64(7);
    let mut number = |lo: f32, hi: f32| lo + (hi - lo) * (chance.next_u32() as f32 / u32::MAX as f32);
    // From outside the limb to a place inside it, as a pointer's rays run.
    let rays: Vec<(Point3<f32>, Vector3<f32>)> = (0..RAYS)
        .map(|_| {
            let (s, c) = number(0.0, std::f32::consts::TAU).sin_cos();
            let from = Point3::new(400.0 * c, 400.0 * s, number(-100.0, 450.0));
            let to = Point3::new(number(-50.0, 50.0), number(-50.0, 50.0), number(0.0, 350.0));
            (from, (to - from).normalize())
        })
        .collect();
    let ours = best(|| rays.iter().filter(|(from, way)| surface.ray(from, way, 2000.0).is_some()).count());
    let parry = best(|| {
        rays.iter()
            .filter(|(from, way)| {
                let ray = Ray::new(Vec3::new(from.x, from.y, from.z), Vec3::new(way.x, way.y, way.z));
                theirs.cast_local_ray(&ray, 2000.0, false).is_some()
            })
            .count()
    });
    let each = 1e6 / RAYS as f64;
    println!("a ray, one thread: {:.2} µs; parry3d {:.2} µs", ours * each, parry * each);

    let places: Vec<_> = rays.iter().filter_map(|(from, way)| surface.ray(from, way, 2000.0)).take(40).collect();
    let mut disc = GeodesicDisc::new(&surface);
    for radius_mm in [5.0_f32, 12.5, 25.0] {
        let (mut slowest, mut sum, mut most) = (0.0_f64, 0.0, 0);
        for place in &places {
            let took = 1e3
                * best(|| {
                    most = most.max(disc.within(&surface, std::slice::from_ref(place), radius_mm).len());
                });
            slowest = slowest.max(took);
            sum += took;
        }
        let middle = sum / places.len() as f64;
        println!("a dab of radius {radius_mm} mm: {middle:.2} ms, slowest {slowest:.2} ms, up to {most} vertices");
    }
    let outline: Vec<Point3<f32>> = (0..12)
        .filter_map(|i| {
            let (s, c) = (i as f32 / 12.0 * std::f32::consts::TAU).sin_cos();
            let way = Vector3::new(-1.0, 0.0, 0.0);
            Some(surface.ray(&Point3::new(400.0, 25.0 * c, 175.0 + 40.0 * s), &way, 2000.0)?.point)
        })
        .collect();
    let line = SurfaceLine::lay(&surface, &outline, true, &Job::silent()).expect("the outline lies on the limb");
    let took = best(|| distance_to_lines(&surface, std::slice::from_ref(&line), 40.0, &Job::silent()));
    println!("distances up to 40 mm from an outline of {:.0} mm: {:.0} ms", line.length_mm(), took * 1e3);

    let before = MEMORY.current_usage();
    MEMORY.reset_peak_usage();
    for place in &places {
        black_box(disc.within(&surface, std::slice::from_ref(place), 25.0).len());
    }
    println!("memory taken by 40 more dabs: {} bytes", MEMORY.peak_usage() - before);
}
