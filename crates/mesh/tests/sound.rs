//! What is measured of a sound solid, against closed forms of bodies whose walls, edges and tips are known.
#![allow(clippy::unwrap_used)] // Clippy takes helpers of tests for ordinary code.

use std::f64::consts::PI;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use mesh::sound::{SoundLimits, SoundReport, sound};
use mesh::{Cancelled, Job, Mesh, solid};
use nalgebra::{Point3, Rotation3};
use test_shapes::{Shape, cuboid, cylinder, icosphere, torus};

fn measure(shape: &Shape, limits: &SoundLimits) -> SoundReport {
    sound(&shape.clone().build(), limits, &Job::silent()).unwrap()
}

fn measured(shape: &Shape) -> SoundReport {
    measure(shape, &SoundLimits::default())
}

fn least_mm(report: &SoundReport) -> f64 {
    report.walls.least.as_ref().unwrap().thickness_mm
}

fn close(found: f64, expected: f64, off: f64) {
    assert!((found - expected).abs() <= off, "{found} for {expected}");
}

/// Along no axis, so that nothing is exact by chance.
fn turned(shape: Shape) -> Shape {
    let turn = Rotation3::from_euler_angles(0.4, 1.1, -0.7);
    shape.mapped(|p| (turn * Point3::from(p)).into())
}

/// A prism along z: an outline that runs counter-clockwise, and the triangles that fill it.
fn prism(outline: &[[f64; 2]], filling: &[[u32; 3]], length: f64) -> Shape {
    let n = outline.len() as u32;
    let points =
        [0.0, length].into_iter().flat_map(|z| outline.iter().map(move |[x, y]| [*x, *y, z].map(|x| x as f32)));
    let mut triangles: Vec<[u32; 3]> =
        filling.iter().flat_map(|[a, b, c]| [[*a, *c, *b], [a + n, b + n, c + n]]).collect();
    triangles.extend((0..n).flat_map(|i| {
        let j = (i + 1) % n;
        [[i, j, j + n], [i, j + n, i + n]]
    }));
    Shape { points: points.collect(), triangles }
}

/// A wedge 60 mm long: two faces 50 mm high that meet at an angle on the z axis, and the face between their far ends.
fn wedge(angle_deg: f64) -> Shape {
    let (sin, cos) = (angle_deg / 2.0).to_radians().sin_cos();
    prism(&[[0.0, 0.0], [50.0 * cos, -50.0 * sin], [50.0 * cos, 50.0 * sin]], &[[0, 1, 2]], 60.0)
}

/// A cone 40 mm high with its tip on the z axis, its base at the origin.
fn cone(half_angle_deg: f64) -> Shape {
    let (n, height) = (64_u32, 40.0);
    let radius = height * half_angle_deg.to_radians().tan();
    let ring = (0..n).map(|i| {
        let (s, c) = (2.0 * PI * f64::from(i) / f64::from(n)).sin_cos();
        [radius * c, radius * s, 0.0].map(|x| x as f32)
    });
    let points = [[0.0, 0.0, height as f32], [0.0; 3]].into_iter().chain(ring).collect();
    let triangles = (0..n).flat_map(|i| {
        let (a, b) = (2 + i, 2 + (i + 1) % n);
        [[0, a, b], [1, b, a]]
    });
    Shape { points, triangles: triangles.collect() }
}

/// One ball inside another, its middle moved along x.
fn hollow_ball(outer: f64, inner: f64, moved: f32) -> Shape {
    icosphere(outer, 5).and(&icosphere(inner, 5).moved([moved, 0.0, 0.0]).flipped())
}

#[test]
fn a_box_is_as_thick_as_its_least_side_and_has_twelve_sharp_edges() {
    for shape in [cuboid([30.0, 20.0, 3.0]), turned(cuboid([30.0, 20.0, 3.0]))] {
        let report = measured(&shape);
        close(least_mm(&report), 3.0, 1e-4);
        assert_eq!((report.walls.thin_share, report.walls.too_thin_share, report.walls.too_thin_places), (0.0, 0.0, 0));
        assert_eq!((report.sharp.count, report.folds.count, report.spikes.count), (12, 0, 0));
        close(report.sharp.length_mm, 4.0 * (30.0 + 20.0 + 3.0), 1e-3);
        let near = "212 mm of edges turn by more than 75 degrees, where 30 mm may, most of all near (";
        assert!(report.faults().len() == 1 && report.faults()[0].starts_with(near), "{:?}", report.faults());

        let asked = SoundLimits { asked_sharp_mm: 182.1, ..SoundLimits::default() };
        assert!(measure(&shape, &asked).is_sound());
    }
}

#[test]
fn a_plate_too_thin_is_too_thin_under_both_its_faces() {
    let report = measured(&cuboid([30.0, 20.0, 0.3]));
    close(least_mm(&report), 0.3, 1e-6);
    // Under the rim the wall is 20 or 30 mm thick.
    let share = 2.0 * 600.0 / (2.0 * 600.0 + 2.0 * 0.3 * 50.0);
    close(report.walls.thin_share, share, 1e-6);
    close(report.walls.too_thin_share, share, 1e-6);
    let [first, second, _] = &report.faults()[..] else { panic!("{:?}", report.faults()) };
    assert!(first.starts_with("The wall is 0.3 mm thin at (") && first.ends_with(" other places."), "{first}");
    assert!(second.starts_with("97.57 % of the surface lies over a wall of less than 0.8 mm, most"), "{second}");
    let places = &report.walls.places;
    for (i, a) in places.iter().enumerate() {
        assert!(places[..i].iter().all(|b| (a.at - b.at).norm() >= 10.0), "{places:?}");
    }
    // Only the pieces whose places are within 10 mm of no other centre are in a place of their own.
    close(places.iter().map(|p| p.thin_mm2).sum(), 1200.0, 1e-3);
}

#[test]
fn between_two_balls_about_one_middle_the_wall_is_the_difference_of_their_radii() {
    // Facets lie up to 0.006 mm under the ball.
    let whole = measured(&hollow_ball(20.0, 18.5, 0.0));
    close(least_mm(&whole), 1.5, 0.01);
    assert_eq!(whole.walls.thin_share, 0.0);
    assert_eq!(whole.faults(), [""; 0]);

    let thin = measured(&hollow_ball(20.0, 19.4, 0.0));
    close(least_mm(&thin), 0.6, 0.01);
    close(thin.walls.thin_share, 1.0, 1e-12);
    assert_eq!((thin.walls.too_thin_share, thin.walls.too_thin_places), (0.0, 0));

    let too_thin = measured(&hollow_ball(20.0, 19.7, 0.0));
    close(too_thin.walls.too_thin_share, 1.0, 1e-12);
}

/// The law of cosines in the triangle of both middles and the point where a ray comes out: along a radius of the outer
/// ball at an angle to the line of middles, c the distance of the middles, the wall is t thick where
/// r² = (R − t)² + c² − 2 (R − t) c cos θ; from the inner ball R² = (r + t)² + c² + 2 (r + t) c cos φ. A cap up to an
/// angle is (1 − cos θ) / 2 of its ball.
#[test]
fn between_two_balls_the_thin_share_is_two_caps() {
    let (outer, inner, apart) = (20.0_f64, 18.0_f64, 1.7_f64);
    let report = measured(&hollow_ball(outer, inner, apart as f32));
    close(least_mm(&report), outer - inner - apart, 0.01);
    let at = report.walls.least.as_ref().unwrap().at;
    assert!((at - Point3::new(20.0, 0.0, 0.0)).norm() < 1.0, "{at}");
    let share_under = |t: f64| {
        let (rho, d) = (outer - t, inner + t);
        let cos_outer = (rho * rho + apart * apart - inner * inner) / (2.0 * rho * apart);
        let cos_inner = (outer * outer - apart * apart - d * d) / (2.0 * d * apart);
        let caps = (1.0 - cos_outer) / 2.0 * outer * outer + (1.0 - cos_inner) / 2.0 * inner * inner;
        caps / (outer * outer + inner * inner)
    };
    close(report.walls.thin_share, share_under(0.8), 0.002);
    close(report.walls.too_thin_share, share_under(0.4), 0.002);
}

/// A hollow of radius r that comes within t₀ of one face of a box. On the face, the wall is thinner than t within
/// ρ² = r² − (r + t₀ − t)²; in the hollow, within cos φ = (r + t₀) / (r + t).
#[test]
fn a_thin_spot_no_larger_than_a_coin_is_found_with_its_place_and_size() {
    let (r, above) = (3.0_f64, 0.3_f64);
    let hollow = icosphere(r, 5).moved([41.0, 17.0, (20.0 - r - above) as f32]).flipped();
    let report = measured(&cuboid([60.0, 60.0, 20.0]).and(&hollow));
    let area_under = |t: f64| {
        let (rho2, cos) = (r * r - (r + above - t).powi(2), (r + above) / (r + t));
        PI * rho2 + 2.0 * PI * r * r * (1.0 - cos)
    };
    let area = 2.0 * (60.0 * 60.0 + 2.0 * 60.0 * 20.0) + 4.0 * PI * r * r;
    close(report.walls.thin_share * area, area_under(0.8), 0.03 * area_under(0.8));
    close(report.walls.too_thin_share * area, area_under(0.4), 0.06 * area_under(0.4));
    let [place] = &report.walls.places[..] else { panic!("{:?}", report.walls) };
    close(place.thin_mm2, area_under(0.8), 0.03 * area_under(0.8));
    assert!((place.at - Point3::new(41.0, 17.0, 20.0)).norm() < 0.6, "{place:?}");
    // The speck passed over reaches 0.007 mm further.
    assert!((above - 0.002..above + 0.01).contains(&place.thickness_mm), "{place:?}");
    assert!(report.faults()[0].starts_with("The wall is 0.3 mm thin at ("), "{:?}", report.faults());
}

/// Under a face of a wedge the wall is as thick as the distance from the edge times the tangent of the angle there.
#[test]
fn a_wedge_is_thin_along_its_edges_as_far_as_its_angles_say() {
    let angle = 25.0_f64;
    let limits = SoundLimits { thin_mm: 4.0, least_mm: 2.0, sharp_deg: 110.0, ..SoundLimits::default() };
    let report = measure(&wedge(angle), &limits);
    let base = 2.0 * 50.0 * (angle / 2.0).to_radians().sin();
    let area = 60.0 * (2.0 * 50.0 + base) + 50.0 * 50.0 * angle.to_radians().sin();
    let share_under = |t: f64| {
        let edge = 2.0 * t / angle.to_radians().tan();
        let corners = 4.0 * t / (90.0 - angle / 2.0).to_radians().tan();
        60.0 * (edge + corners) / area
    };
    close(report.walls.thin_share / share_under(4.0), 1.0, 0.01);
    close(report.walls.too_thin_share / share_under(2.0), 1.0, 0.01);

    // The edge turns by 155 degrees, the two others along it by 102.5.
    assert_eq!((report.sharp.count, report.folds.count), (1, 1));
    close(report.sharp.length_mm, 60.0, 1e-4);
    close(report.folds.places[0].turn_deg, 180.0 - angle, 1e-3);
    assert!(report.faults().contains(&"An edge is folded over at (0.0, 0.0, 30.0) mm.".to_owned()));
    assert_eq!(measured(&wedge(40.0)).folds.count, 0);
}

/// On the two flanks of an edge, what is thinner than t takes 2 t / tan α for each mm of its length. A plate with one
/// side bevelled to 30 degrees, 6 mm wide so that its whole edge is one place.
#[test]
fn of_a_place_as_much_as_a_speck_is_passed_over() {
    let tan = 30_f64.to_radians().tan();
    let outline = [[0.0, 0.0], [30.0, 0.0], [30.0, 3.0], [3.0 / tan, 3.0]];
    let shape = turned(prism(&outline, &[[0, 1, 2], [0, 2, 3]], 6.0));
    for speck_mm2 in [2.0, 4.0, 6.0] {
        let report = measure(&shape, &SoundLimits { speck_mm2, ..SoundLimits::default() });
        // Some 100 to 500 pieces lie there, each in or out as a whole.
        close(least_mm(&report) / (speck_mm2 * tan / (2.0 * 6.0)), 1.0, 0.06);
        close(report.walls.places[0].thin_mm2 / (2.0 * 6.0 * 0.8 / tan), 1.0, 0.03);
        assert_eq!(report.walls.too_thin_places, 1);
    }
    // 8.3 mm² are thinner than 0.4 mm.
    let passed_over = measure(&shape, &SoundLimits { speck_mm2: 9.0, ..SoundLimits::default() });
    assert_eq!(passed_over.walls.too_thin_places, 0);
}

#[test]
fn rims_of_a_cylinder_are_sharp_and_its_facets_are_not() {
    let report = measured(&cylinder(10.0, [0.0, 20.0], 12, 3));
    // Twelve facets turn by 30 degrees each; a side of the rim is the chord of 30 degrees.
    assert_eq!(report.sharp.count, 24);
    close(report.sharp.length_mm, 24.0 * 20.0 * (PI / 12.0).sin(), 1e-3);
    close(report.sharp.places.iter().map(|p| p.length_mm).sum(), report.sharp.length_mm, 1e-6);
    assert!(report.sharp.places.iter().all(|p| (p.turn_deg - 90.0).abs() < 1e-3));
}

#[test]
fn edges_of_a_hollow_are_sharp_too() {
    let hollow = cuboid([10.0; 3]).moved([5.0; 3]).flipped();
    let report = measured(&cuboid([20.0; 3]).and(&hollow));
    assert_eq!(report.sharp.count, 24);
    close(report.sharp.length_mm, 12.0 * 20.0 + 12.0 * 10.0, 1e-4);
    close(least_mm(&report), 5.0, 1e-5);
}

/// The tip of a cone of half angle a lacks 2π (1 − sin a) of a full turn: its development is a sector of 2π sin a.
#[test]
fn the_tip_of_a_needle_is_a_spike_out_of_a_body_and_into_it() {
    let needle = cone(15.0);
    let into = cuboid([100.0; 3]).moved([-50.0, -50.0, -30.0]).and(&cone(15.0).flipped());
    for shape in [needle, into] {
        assert!(solid::check(&shape.clone().build(), &Job::silent()).unwrap().is_solid());
        let report = measured(&shape);
        assert_eq!((report.spikes.count, report.spikes.places.len()), (1, 1));
        let spike = &report.spikes.places[0];
        assert_eq!(spike.at, Point3::new(0.0, 0.0, 40.0));
        close(spike.lacks_deg, 360.0 * (1.0 - 15_f64.to_radians().sin()), 0.05);
        assert!(report.faults().contains(&"There is a spike at (0.0, 0.0, 40.0) mm.".to_owned()));
    }
    assert_eq!(measured(&cone(18.0)).spikes.count, 0);
}

/// A flap that lies over a plate, 0.2 mm off it at its tip: a solid, and yet folded where the flap starts and at the tip.
#[test]
fn a_flap_folded_over_is_a_solid_with_two_folds() {
    let outline = [[0.0, 0.0], [30.0, 0.0], [30.0, 3.0], [10.0, 3.0], [28.0, 3.2], [0.0, 4.0]];
    let shape = prism(&outline, &[[0, 1, 2], [0, 2, 3], [0, 3, 5], [3, 4, 5]], 25.0);
    assert!(solid::check(&shape.clone().build(), &Job::silent()).unwrap().is_solid());
    let report = measured(&shape);
    assert_eq!(report.folds.count, 2);
    close(report.folds.length_mm, 50.0, 1e-4);
    let turn_at_start = 180.0 - 0.2_f64.atan2(18.0).to_degrees();
    assert!(report.folds.places.iter().any(|p| (p.turn_deg - turn_at_start).abs() < 1e-3), "{:?}", report.folds);
    let words = "2 edges are folded over, most of all near (";
    assert!(report.faults().iter().any(|fault| fault.starts_with(words)), "{:?}", report.faults());
}

#[test]
fn nothing_is_wrong_with_a_torus() {
    let report = measured(&turned(torus(30.0, 8.0, 300, 90)));
    assert_eq!(report.faults(), [""; 0]);
    assert!(report.is_sound());
    close(least_mm(&report), 16.0, 0.05);
    assert_eq!((report.walls.thin_share, report.sharp.count, report.spikes.count), (0.0, 0, 0));
}

#[test]
fn what_has_no_inside_has_no_wall() {
    let words = "No wall can be measured: the surface is empty, open or inside out.";
    for shape in [Shape::default(), cuboid([9.0; 3]).flipped(), test_shapes::plane(5, 5, 1.0)] {
        assert!(measured(&shape).faults().contains(&words.to_owned()));
    }
}

/// Thin walls, sharp edges, folds and spikes at many places.
fn faulty() -> Mesh {
    let parts = [
        wedge(25.0).moved([50.0, 0.0, 0.0]),
        wedge(70.0).moved([50.0, 60.0, 0.0]),
        cone(12.0).moved([0.0, 60.0, 0.0]),
        cone(9.0).moved([-60.0, 60.0, 0.0]),
        torus(30.0, 0.2, 200, 12).moved([0.0, -80.0, 0.0]),
    ];
    let whole = parts.iter().fold(hollow_ball(20.0, 18.0, 1.7).noisy(0.02, 5), |whole, part| whole.and(part));
    turned(whole).build()
}

#[test]
fn one_and_four_threads_report_the_same_bytes() {
    let mesh = faulty();
    let run = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let report = pool.install(|| sound(&mesh, &SoundLimits::default(), &Job::silent())).unwrap();
        serde_json::to_string(&report).unwrap()
    };
    let alone = run(1);
    assert_eq!(alone, run(4));
    let report: SoundReport = serde_json::from_str(&alone).unwrap();
    assert_eq!(report.faults().len(), 5, "{:?}", report.faults());
    assert_eq!(report.walls.places.len(), report.limits.places);
    assert_eq!(serde_json::to_string(&report).unwrap(), alone);
}

#[test]
fn limits_left_out_of_a_file_are_the_usual_ones_and_unknown_ones_are_refused() {
    let read = serde_json::from_str::<SoundLimits>;
    assert_eq!(read(r#"{"thin_mm": 1.2}"#).unwrap(), SoundLimits { thin_mm: 1.2, ..SoundLimits::default() });
    assert!(read(r#"{"thin": 1.2}"#).is_err());
}

#[test]
fn it_stops_at_whichever_look_at_the_cancel_flag_it_is_cancelled() {
    let mesh = faulty();
    let run = |stop_at: usize| {
        let (looks, cancel) = (Arc::new(AtomicUsize::new(0)), Job::silent());
        let (count, flag) = (looks.clone(), cancel.clone());
        let job = cancel.watched(move || {
            if count.fetch_add(1, Ordering::Relaxed) == stop_at {
                flag.cancel();
            }
        });
        (sound(&mesh, &SoundLimits::default(), &job), looks.load(Ordering::Relaxed))
    };
    let (whole, looks) = run(usize::MAX);
    assert!(whole.is_ok() && looks > 40, "{looks} looks");
    for stop_at in [0, looks / 4, looks / 2, 3 * looks / 4, looks - 1] {
        assert_eq!(run(stop_at).0, Err(Cancelled), "at look {stop_at} of {looks}");
    }
}
