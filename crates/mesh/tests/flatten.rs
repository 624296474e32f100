//! Surfaces laid flat: those that can be developed, against their true lengths; caps of a sphere, against the least
//! distortion that any map of them can have.

use std::f32::consts::FRAC_PI_4;
use std::f64::consts::TAU;

use approx::assert_relative_eq;
use mesh::flatten::{Flat, FlattenError, flatten};
use mesh::{Job, Mesh};
use test_shapes::{Diagonals, Wrap, grid, icosphere, plane, tube};

/// A curved sheet, `place(u, v)` for u and v from 0 to 1 in uneven triangles.
fn sheet(columns: u32, rows: u32, place: impl Fn(f64, f64) -> [f64; 3]) -> Mesh {
    // Steps that grow and shrink along both sides, so that no two triangles are alike.
    let uneven = |t: f64| t + 0.02 * (TAU * 3.0 * t).sin();
    grid(columns, rows, Wrap::None, Diagonals::Alternate, |u, v| place(uneven(u), uneven(v))).build()
}

fn laid(mesh: &Mesh) -> Flat {
    flatten(mesh, &Job::silent()).expect("a sheet")
}

/// The greatest and the least by which a length is multiplied anywhere.
fn range(mesh: &Mesh, flat: &Flat) -> [f64; 2] {
    let all = (0..mesh.triangles.len()).map(|t| flat.stretch(mesh, t));
    all.fold([0.0, f64::INFINITY], |[most, least], [high, low]| [most.max(high), least.min(low)])
}

/// From the lowest to the highest v in the middle of u.
fn ends(columns: u32, rows: u32) -> [usize; 2] {
    [columns / 2, rows * (columns + 1) + columns / 2].map(|i| i as usize)
}

#[test]
fn a_cylinder_and_a_cone_are_developed_exactly() {
    let (columns, rows) = (120, 60);
    // Nine tenths of the way round.
    let cylinder = sheet(columns, rows, |u, v| {
        let (s, c) = (0.9 * TAU * u).sin_cos();
        [40.0 * c, 40.0 * s, 100.0 * v]
    });
    // From 40 to 20 mm of radius over 80 mm of height.
    let cone = sheet(columns, rows, |u, v| {
        let ((s, c), r) = ((0.9 * TAU * u).sin_cos(), 40.0 - 20.0 * v);
        [r * c, r * s, 80.0 * v]
    });
    for (mesh, length_mm) in [(cylinder, 100.0), (cone, 20_f64.hypot(80.0))] {
        let flat = laid(&mesh);
        let [most, least] = range(&mesh, &flat);
        assert!(most < 1.001 && least > 0.999, "{most} {least}");
        let [low, high] = ends(columns, rows).map(|v| flat.points[v]);
        assert_relative_eq!(nalgebra::distance(&low, &high), length_mm, max_relative = 1e-3);
        // Seen from outside, as the triangles are.
        assert_eq!(flat.folded(&mesh), 0);
    }
}

/// Milnor 1969, "A problem in cartography", American Mathematical Monthly 76: no map of a cap of angular radius α has a
/// smaller ratio between its greatest and its least scale than α / sin α (from memory).
#[test]
fn a_cap_is_stretched_by_no_less_than_it_must_be_and_by_little_more() {
    let radius_mm = 50.0;
    let ball: Mesh = icosphere(f64::from(radius_mm), 5).build();
    for alpha in [0.4, FRAC_PI_4, 1.1_f32] {
        let mut cap = ball.clone();
        cap.triangles.retain(|t| t.iter().all(|v| ball.points[*v as usize].z > radius_mm * alpha.cos()));
        mesh::repair::drop_unused_points(&mut cap);
        let flat = laid(&cap);
        let [most, least] = range(&cap, &flat);
        // Its edge runs in and out by an edge of a triangle: a cap that much smaller lies in it.
        let must = |alpha: f32| f64::from(alpha / alpha.sin()).ln();
        let ratio = (most / least).ln();
        assert!(ratio > must(alpha - 0.05), "{alpha}: {ratio} under {}", must(alpha - 0.05));
        assert!(ratio < 1.6 * must(alpha), "{alpha}: {ratio} for {}", must(alpha));
        assert_eq!(flat.folded(&cap), 0);
    }
}

#[test]
fn a_sheet_with_a_hole_keeps_its_hole() {
    let mut mesh: Mesh = plane(40, 40, 1.0).build();
    let middle = |p: &nalgebra::Point3<f32>| (p.x - 20.0).hypot(p.y - 20.0) < 8.0;
    mesh.triangles.retain(|t| !t.iter().any(|v| middle(&mesh.points[*v as usize])));
    mesh::repair::drop_unused_points(&mut mesh);
    let flat = laid(&mesh);
    // A flat sheet is only moved and turned.
    let own = |i: usize, j: usize| f64::from((mesh.points[i] - mesh.points[j]).norm());
    for (i, j) in [(0, 40), (0, mesh.points.len() - 1), (400, 900)] {
        assert_relative_eq!(nalgebra::distance(&flat.points[i], &flat.points[j]), own(i, j), max_relative = 1e-6);
    }
}

#[test]
fn what_cannot_be_laid_flat_is_refused() {
    let ball: Mesh = icosphere(10.0, 2).build();
    assert_eq!(flatten(&ball, &Job::silent()), Err(FlattenError::Closed));
    assert_eq!(flatten(&Mesh::default(), &Job::silent()), Err(FlattenError::Closed));
    let two: Mesh = plane(3, 3, 1.0).and(&plane(3, 3, 1.0).moved([9.0, 0.0, 0.0])).build();
    assert_eq!(flatten(&two, &Job::silent()), Err(FlattenError::InPieces));
    let job = Job::silent();
    job.cancel();
    let sheet: Mesh = plane(3, 3, 1.0).build();
    assert!(matches!(flatten(&sheet, &job), Err(FlattenError::Cancelled(_))));
}

#[test]
fn one_and_two_threads_give_the_same_bytes() {
    let mesh: Mesh = tube(30.0, [0.0, 60.0], 120, 60).build();
    let mut half = mesh.clone();
    half.triangles.retain(|t| t.iter().all(|v| mesh.points[*v as usize].x > 0.0));
    mesh::repair::drop_unused_points(&mut half);
    let run = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| laid(&half))
    };
    assert_eq!(run(1), run(2));
}
