//! Distances of shells from limbs that have closed forms.

use fit::{FitError, clearance};
use mesh::{Job, Mesh, Surface};
use nalgebra::Vector3;
use test_shapes::{plane, torus, tube};

/// A facet of `around` lies at most this far inside the circle through its corners.
fn sag(radius: f32, around: u32) -> f32 {
    radius * (1.0 - (std::f32::consts::PI / around as f32).cos())
}

#[test]
fn a_tube_round_a_tube_stands_off_by_the_difference_of_radii() {
    let skin: Surface = tube(40.0, [0.0, 200.0], 720, 101).build();
    let inner = tube(43.0, [60.0, 140.0], 360, 41).flipped();
    let both = inner.clone().and(&tube(46.0, [60.0, 140.0], 360, 41));
    let found = clearance(&skin, &both.build(), &Job::silent()).unwrap();
    let inner: Mesh = inner.build();
    let off = sag(40.0, 720) + sag(43.0, 360);
    let half = inner.points.len();
    assert!(found.distance_mm[..half].iter().all(|d| (d - 3.0).abs() < off));
    assert!(found.distance_mm[half..].iter().all(|d| (d - 6.0).abs() < off + 0.01));
    assert_eq!(
        found.inner.triangles,
        (0..inner.triangles.len() as u32).collect::<Vec<_>>(),
        "the outer face is not it"
    );
    assert!((found.inner.area_mm2 / inner.area_mm2() - 1.0).abs() < 1e-9);
    let figures = found.figures.unwrap();
    for value in [figures.least_mm, figures.middle_mm, figures.most_95_mm, figures.greatest_mm] {
        assert!((value - 3.0).abs() < off + 1e-3, "{figures:?}");
    }
    assert!(found.share_below(2.9) < 1e-12 && found.share_below(3.1) > 1.0 - 1e-12);
}

/// A tube moved aside by e: the gap at angle θ is √(R² + e² + 2Re cos θ) − r, near to R − r + e cos θ, so half of the
/// face is nearer than the middle and 95 % nearer than at cos θ = cos(0.05π).
#[test]
fn a_tube_off_its_middle_has_the_figures_of_its_cosine() {
    let (r, big, e) = (40.0_f32, 44.0_f32, 1.5_f32);
    let skin: Surface = tube(r.into(), [0.0, 200.0], 720, 101).build();
    let shell: Mesh = tube(big.into(), [60.0, 140.0], 720, 41).flipped().moved([e, 0.0, 0.0]).build();
    let found = clearance(&skin, &shell, &Job::silent()).unwrap();
    let gap = |angle: f32| (big * big + e * e + 2.0 * big * e * angle.cos()).sqrt() - r;
    let figures = found.figures.unwrap();
    let pi = std::f32::consts::PI;
    for (value, angle) in [
        (figures.least_mm, pi),
        (figures.middle_mm, pi / 2.0),
        (figures.most_95_mm, 0.05 * pi),
        (figures.greatest_mm, 0.0),
    ] {
        assert!((value - gap(angle)).abs() < 0.003, "{value} for {}", gap(angle));
    }
    assert!((found.share_below(gap(pi / 3.0)) - 2.0 / 3.0).abs() < 0.002);
}

#[test]
fn a_shell_that_cuts_into_a_ball_is_negative_there() {
    // A torus inside another about the same circle, 0.5 mm below its surface.
    let skin: Surface = torus(60.0, 20.5, 720, 360).build();
    let shell = torus(60.0, 20.0, 360, 180);
    let found = clearance(&skin, &shell.clone().build(), &Job::silent()).unwrap();
    assert!(found.distance_mm.iter().all(|d| (d + 0.5).abs() < 0.02));
    // Inside the limb, a face that looks outward does not look at the skin; flipped it does.
    assert!(found.inner.triangles.is_empty() && found.figures.is_none());
    assert!(found.share_below(9.0) < 1e-12);
    let turned: Mesh = shell.flipped().build();
    let found = clearance(&skin, &turned, &Job::silent()).unwrap();
    assert_eq!(found.inner.triangles.len(), turned.triangles.len());
    assert!((found.figures.unwrap().middle_mm + 0.5).abs() < 0.02);
}

#[test]
fn walls_across_the_skin_are_no_inner_face() {
    let square = plane(1, 1, 90.0);
    let wall = square.clone().mapped(|[x, y, _]| [40.0, x * 0.2 + 20.0, y * 0.05 + 2.0]);
    let skin: Surface = square.build();
    assert!(clearance(&skin, &wall.build(), &Job::silent()).unwrap().inner.triangles.is_empty());
}

#[test]
fn one_thread_or_many_give_the_same_numbers() {
    let skin: Surface = tube(40.0, [0.0, 200.0], 200, 101).build();
    let shell: Mesh = tube(43.0, [60.0, 140.0], 360, 61).flipped().build();
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| clearance(&skin, &shell, &Job::silent()).unwrap())
    };
    assert_eq!(with(1), with(4));
}

#[test]
fn what_cannot_be_measured_is_refused() {
    let skin: Surface = tube(40.0, [0.0, 20.0], 20, 5).build();
    let mut shell: Mesh = tube(43.0, [6.0, 14.0], 20, 5).flipped().build();
    assert_eq!(clearance(&Surface::new(Mesh::default()), &shell, &Job::silent()), Err(FitError::NoSkin));
    let job = Job::silent();
    job.cancel();
    assert_eq!(clearance(&skin, &shell, &job), Err(FitError::Cancelled(mesh::Cancelled)));
    shell.triangles[2][1] = 1000;
    let wrong = clearance(&skin, &shell, &Job::silent()).unwrap_err();
    assert_eq!(wrong, FitError::NoSuchPoint { triangle: 2, point: 1000, points: 100 });
    shell.triangles.clear();
    shell.points[7] += Vector3::new(f32::NAN, 0.0, 0.0);
    assert_eq!(clearance(&skin, &shell, &Job::silent()), Err(FitError::NotFinite { point: 7 }));
}
