//! Charts against closed forms: unrolled tubes and cones, great circles.

use std::f32::consts::PI;

use mesh::{Cancelled, Hit, Job, Surface};
use nalgebra::Point3;

use super::{Chart, skin_directions, skin_point};
use crate::sample_skins::{Rough, ball, cone, tube};

fn chart(skin: &Surface, at: &Hit, turn_deg: f32, radius_mm: f32) -> Chart {
    Chart::new(skin, at, turn_deg, radius_mm, &Job::silent()).unwrap()
}

const ROUGHNESS: [Rough; 2] = [Rough { uneven: 0.0, noise_mm: 0.0 }, Rough { uneven: 0.3, noise_mm: 0.0 }];

/// Greatest error of length beyond and within 5 mm (part, mm), and of direction beyond 3 mm, degrees.
fn errors(chart: &Chart, truth: impl Fn(u32) -> [f32; 2]) -> [f32; 3] {
    let mut worst = [0.0_f32; 3];
    for (v, [x, y]) in &chart.vertices {
        let [tx, ty] = truth(*v);
        assert!(x.is_finite() && y.is_finite());
        let (length, true_length) = (x.hypot(*y), tx.hypot(ty));
        if true_length > 5.0 {
            worst[0] = worst[0].max((length / true_length - 1.0).abs());
        } else {
            worst[1] = worst[1].max((length - true_length).abs());
        }
        if true_length > 3.0 {
            worst[2] = worst[2].max((tx * y - ty * x).atan2(tx * x + ty * y).abs().to_degrees());
        }
    }
    worst
}

fn check(
    name: &str,
    skin: &Surface,
    start: Point3<f32>,
    radius: f32,
    truth: impl Fn(&Point3<f32>, &Point3<f32>) -> [f32; 2],
) {
    let at = skin_point(skin, &start).unwrap();
    let chart = chart(skin, &at, 0.0, radius);
    let [part, near, angle] = errors(&chart, |v| truth(&at.point, &skin.mesh().points[v as usize]));
    println!(
        "{name}: {} vertices, length {:.2} %, near {near:.3} mm, direction {angle:.2}°",
        chart.vertices.len(),
        part * 100.0
    );
    assert!(part < 0.01, "{name}: length off by {} %", part * 100.0);
    assert!(near < 0.05, "{name}: length near the middle off by {near} mm");
    assert!(angle < 1.5, "{name}: direction off by {angle} degrees");
}

#[test]
fn a_tube_unrolls() {
    for rough in ROUGHNESS {
        let skin = tube(40.0, 90.0, 1.0, rough);
        check("tube", &skin, Point3::new(40.0, 3.3, 1.2), 30.0, |a, p| {
            [40.0 * (a.x * p.y - a.y * p.x).atan2(a.x * p.x + a.y * p.y), p.z - a.z]
        });
    }
}

#[test]
fn a_ball_unrolls_along_great_circles() {
    for rough in ROUGHNESS {
        let skin = ball(40.0, 1.0, rough);
        check("ball", &skin, Point3::new(38.0, 3.3, 9.2), 30.0, |a, p| {
            let n = a.coords.normalize();
            let (around, along) = skin_directions(&n);
            let flat = (p - a) - n * n.dot(&(p - a));
            let r = 40.0 * n.angle(&p.coords);
            let flat = flat.try_normalize(1e-9).unwrap_or_default() * r;
            [flat.dot(&around), flat.dot(&along)]
        });
    }
}

#[test]
fn a_cone_unrolls() {
    for rough in ROUGHNESS {
        let (low, high, length) = (48.0_f32, 30.0_f32, 90.0_f32);
        let skin = cone(low, high, length, 1.0, rough);
        let slant = length.hypot(low - high);
        // Distance from the tip along the slant, and the part of the full turn that is left when unrolled.
        let tip = slant * low / (low - high);
        let narrow = (low - high) / slant;
        check("cone", &skin, Point3::new(39.0, 3.3, 1.2), 30.0, move |a, p| {
            let from_tip = |q: &Point3<f32>| tip - (q.z / length + 0.5) * slant;
            let turn = (a.x * p.y - a.y * p.x).atan2(a.x * p.x + a.y * p.y) * narrow;
            [from_tip(p) * turn.sin(), from_tip(a) - from_tip(p) * turn.cos()]
        });
    }
}

#[test]
fn the_march_alone_is_as_true() {
    // A thumb: the straight way ends after 50 degrees, 8 mm; the rest of the half tube is marched.
    for rough in ROUGHNESS {
        let skin = tube(9.0, 60.0, 0.7, rough);
        check("thumb", &skin, Point3::new(9.0, 0.2, 1.2), 20.0, |a, p| {
            [9.0 * (a.x * p.y - a.y * p.x).atan2(a.x * p.x + a.y * p.y), p.z - a.z]
        });
    }
}

#[test]
fn circles_on_a_noisy_scan_stay_round() {
    let skin = tube(40.0, 60.0, 0.7, Rough { uneven: 0.3, noise_mm: 0.1 });
    for start in [Point3::new(40.0, 0.0, 0.0), Point3::new(0.0, 40.3, 7.7), Point3::new(-30.0, 28.0, -9.0)] {
        let at = skin_point(&skin, &start).unwrap();
        let chart = chart(&skin, &at, 0.0, 8.0);
        let a = at.point;
        for i in 0..72 {
            let (sin, cos) = (i as f32 / 36.0 * PI).sin_cos();
            let p = chart.skin_point(&skin, [4.0 * cos, 4.0 * sin]).unwrap().point;
            let r = (40.0 * (a.x * p.y - a.y * p.x).atan2(a.x * p.x + a.y * p.y)).hypot(p.z - a.z);
            assert!((r - 4.0).abs() < 0.1, "radius {r} at {}°", i * 5);
        }
    }
}

#[test]
fn coordinates_lead_back_to_the_skin_point() {
    let skin = ball(40.0, 1.0, Rough { uneven: 0.3, noise_mm: 0.0 });
    let at = skin_point(&skin, &Point3::new(38.0, 3.3, 9.2)).unwrap();
    let chart = chart(&skin, &at, 33.0, 25.0);
    for i in 0..300 {
        let (r, turn) = (24.5 * (i as f32 / 300.0).sqrt(), i as f32 * 2.4);
        let uv = [r * turn.cos(), r * turn.sin()];
        let hit = chart.skin_point(&skin, uv).unwrap();
        let back = chart.uv_at(&skin, &hit).unwrap();
        assert!((back[0] - uv[0]).hypot(back[1] - uv[1]) < 0.01, "{uv:?} became {back:?}");
    }
    assert!(chart.skin_point(&skin, [40.0, 0.0]).is_none());
}

#[test]
fn turning_turns_and_edges_cut_short() {
    let skin = tube(40.0, 40.0, 1.0, Rough::default());
    let at = skin_point(&skin, &Point3::new(40.0, 0.0, 15.0)).unwrap();
    let chart = chart(&skin, &at, 90.0, 10.0);
    // u now runs along the limb, v against *around*.
    let up = chart.skin_point(&skin, [4.0, 0.0]).unwrap().point;
    assert!((up - Point3::new(40.0, 0.0, 19.0)).norm() < 0.02, "{up}");
    let aside = chart.skin_point(&skin, [0.0, 8.0]).unwrap().point;
    assert!((aside - Point3::new(40.0 * 0.2_f32.cos(), -40.0 * 0.2_f32.sin(), 15.0)).norm() < 0.03, "{aside}");
    assert!(chart.skin_point(&skin, [6.0, 0.0]).is_none(), "beyond the end of the tube");
}

#[test]
fn charts_are_the_same_on_all_threads_and_stop_on_request() {
    let skin = tube(40.0, 90.0, 0.7, Rough { uneven: 0.3, noise_mm: 0.05 });
    let at = skin_point(&skin, &Point3::new(40.0, 3.3, 1.2)).unwrap();
    // A small chart before and after, since each thread keeps memory from chart to chart.
    let small = chart(&skin, &at, 0.0, 10.0);
    let wide = chart(&skin, &at, 0.0, 30.0);
    assert_eq!(small, chart(&skin, &at, 0.0, 10.0));
    let again: Vec<Chart> = std::thread::scope(|s| {
        let runs: Vec<_> = (0..3).map(|_| s.spawn(|| chart(&skin, &at, 0.0, 30.0))).collect();
        runs.into_iter().map(|t| t.join().unwrap()).collect()
    });
    assert!(again.iter().all(|c| *c == wide));
    let job = Job::silent();
    job.cancel();
    assert_eq!(Chart::new(&skin, &at, 0.0, 80.0, &job), Err(Cancelled));
}

/// Triangles that lie anywhere between sixty points: their sides belong to no skin, and ways over them may grow shorter
/// round and round.
#[test]
fn a_tangle_is_mapped_in_bounded_time() {
    let mut random = test_shapes::random::seeded(5);
    let mut between = |low: f64, high: f64| test_shapes::random::between(&mut random, low, high);
    let points =
        (0..60).map(|_| Point3::new(between(-9.0, 9.0), between(-9.0, 9.0), between(-9.0, 9.0)).cast()).collect();
    let triangles = (0..3000).map(|_| [0; 3].map(|_: u32| between(0.0, 59.9) as u32)).collect();
    let skin = Surface::new(mesh::Mesh::new(points, triangles));
    for at in skin.mesh().points.clone() {
        let chart = chart(&skin, &skin_point(&skin, &at).unwrap(), 0.0, 40.0);
        assert!(chart.vertices.iter().all(|(_, uv)| uv.iter().all(|x| x.is_finite())));
    }
}
