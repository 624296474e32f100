//! Zones on surfaces whose geometry is known: the plane and what can be rolled from it keep areas and distances.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // Clippy takes helpers of tests for ordinary code.

use std::f64::consts::PI;

use mesh::{Job, Surface};
use nalgebra::{Point2, Point3};
use test_shapes::even_tube;
use test_shapes::patches::{Rolled, circle, dense, plane_distance};
use zone::{Dab, ExtraRegion, RegionKind, Source, Zone, ZoneError, ZoneSettings};

const CYLINDER: Rolled = Rolled::Cylinder { radius_mm: 40.0 };
const SHAPES: [Rolled; 3] = [Rolled::Plane, CYLINDER, Rolled::Cone { half_angle: 0.079_705_6, slant_mm: 480.0 }];

fn on(shape: Rolled, chain: &[Point2<f64>]) -> Vec<Point3<f32>> {
    chain.iter().map(|p| shape.place(p).cast()).collect()
}

fn p(x: f64, y: f64) -> Point2<f64> {
    Point2::new(x, y)
}

fn square(half: f64) -> [Point2<f64>; 4] {
    [p(-half, -half), p(half, -half), p(half, half), p(-half, half)]
}

fn outline(shape: Rolled, chain: &[Point2<f64>]) -> Source {
    Source::Outline { corners_mm: on(shape, chain), inside_mm: None }
}

fn dab(shape: Rolled, x: f64, y: f64, radius_mm: f32, remove: bool) -> Dab {
    Dab { at_mm: shape.place(&p(x, y)).cast(), radius_mm, remove }
}

fn make(surface: &Surface, settings: &ZoneSettings) -> Result<Zone, ZoneError> {
    zone::make(surface, settings, &Job::silent())
}

fn close(found: f64, truth: f64, share: f64) {
    assert!((found / truth - 1.0).abs() < share, "{found} for {truth}: {:+.3} %", (found / truth - 1.0) * 100.0);
}

/// Settings that keep the edge as it was drawn.
fn as_drawn() -> ZoneSettings {
    ZoneSettings { tolerance_mm: 0.0, ..ZoneSettings::default() }
}

#[test]
fn an_outline_of_four_points_has_its_area_and_distances_in_the_development() {
    let corners = [p(-31.0, -22.0), p(28.0, -27.0), p(33.0, 19.0), p(-24.0, 30.0)];
    let area = 0.5 * (0..4).map(|i| corners[i].coords.perp(&corners[(i + 1) % 4].coords)).sum::<f64>();
    for shape in SHAPES {
        let (flat, surface) = shape.surface::<Surface>(120.0, 120.0, 1.0, 0.35, 8);
        let settings = ZoneSettings { sources: vec![outline(shape, &corners)], ..as_drawn() };
        let zone = make(&surface, &settings).unwrap();
        close(zone.covered.area_mm2(&surface), area, 0.002);
        for (v, at) in flat.iter().enumerate() {
            let truth = plane_distance(at, &corners, true);
            let inside = (0..4).all(|i| (corners[(i + 1) % 4] - corners[i]).perp(&(at - corners[i])) > 0.0);
            let found = f64::from(zone.covered.distance_mm[v]);
            if truth > 0.05 {
                assert_eq!(found > 0.0, inside, "{at:?}");
            }
            if truth < 39.0 {
                let allowed = if truth > 2.0 { 0.01 * truth } else { 0.02 };
                assert!((found.abs() - truth).abs() < allowed, "{shape:?} {at:?}: {found} for {truth}");
            }
        }
        assert_eq!(zone.covered.edges.len(), 1);
        if shape == Rolled::Plane {
            // The edge runs with the inside on its left.
            let edge = &zone.covered.edges[0];
            let next = |i: usize| edge[(i + 1) % edge.len()];
            let twice: f32 = (0..edge.len()).map(|i| edge[i].x * next(i).y - edge[i].y * next(i).x).sum();
            close(f64::from(twice) / 2.0, area, 1e-4);
        }
        assert!(zone.notices.is_empty(), "{:?}", zone.notices);
    }
}

/// Two discs: πr² + πs² less their lens.
#[test]
fn two_dabs_have_the_area_of_their_union() {
    let (r, s, d) = (17.0_f64, 12.0_f64, 21.0_f64);
    let a = ((d * d + r * r - s * s) / (2.0 * d * r)).acos();
    let b = ((d * d + s * s - r * r) / (2.0 * d * s)).acos();
    let lens = r * r * (a - a.sin() * a.cos()) + s * s * (b - b.sin() * b.cos());
    for shape in SHAPES {
        let (_, surface) = shape.surface::<Surface>(110.0, 110.0, 1.0, 0.35, 8);
        let dabs = vec![dab(shape, -10.0, 3.0, r as f32, false), dab(shape, -10.0 + d, 3.0, s as f32, false)];
        let settings = ZoneSettings { sources: vec![Source::Strokes { dabs }], ..as_drawn() };
        let zone = make(&surface, &settings).unwrap();
        close(zone.covered.area_mm2(&surface), PI * (r * r + s * s) - lens, 0.005);
    }
}

#[test]
fn a_removing_dab_takes_away_and_a_later_one_gives_back() {
    let shape = CYLINDER;
    let (_, surface) = shape.surface::<Surface>(110.0, 110.0, 1.0, 0.35, 8);
    let mut dabs = vec![dab(shape, 0.0, 0.0, 30.0, false), dab(shape, 2.0, 1.0, 10.0, true)];
    let area = |dabs: &[Dab]| {
        let sources = vec![Source::Strokes { dabs: dabs.to_vec() }];
        make(&surface, &ZoneSettings { sources, ..as_drawn() }).unwrap().covered.area_mm2(&surface)
    };
    close(area(&dabs), PI * (900.0 - 100.0), 0.005);
    dabs.push(dab(shape, 2.0, 1.0, 12.0, false));
    close(area(&dabs), PI * 900.0, 0.005);
}

/// Steiner: the parallel body of a convex figure has the area A + Px + πx²; inward a square stays a square.
#[test]
fn growing_a_square_follows_steiner() {
    for shape in SHAPES {
        let (_, surface) = shape.surface::<Surface>(120.0, 120.0, 1.0, 0.35, 8);
        let steiner = |x: f64| 1600.0 + 160.0 * x + PI * x * x;
        for (x, truth) in [(12.0, steiner(12.0)), (5.0, steiner(5.0)), (-6.0, 28.0 * 28.0)] {
            let sources = vec![outline(shape, &square(20.0))];
            let zone = make(&surface, &ZoneSettings { sources, grow_mm: x, ..as_drawn() }).unwrap();
            close(zone.covered.area_mm2(&surface), truth, 0.005);
        }
    }
}

/// A square rounded with radius s loses (4 − π)s² at its corners.
#[test]
fn smoothing_rounds_corners_and_then_changes_nothing() {
    let shape = CYLINDER;
    let (_, surface) = shape.surface::<Surface>(120.0, 120.0, 1.0, 0.35, 8);
    let settings = ZoneSettings { sources: vec![outline(shape, &square(25.0))], smooth_mm: 8.0, ..as_drawn() };
    let once = make(&surface, &settings).unwrap();
    // Shrunk by its own radius a round corner becomes a sharp one, of which the triangles keep all but half an edge:
    // each corner loses up to 0.4 mm.
    close(once.covered.area_mm2(&surface), 2500.0 - (4.0 - PI) * 64.0, 0.006);

    // Drawn again from its own edge, smoothed or not, it stays where it is.
    let line = Source::Line { points_mm: once.covered.edges[0].clone(), inside_mm: None };
    let again =
        |smooth_mm| make(&surface, &ZoneSettings { sources: vec![line.clone()], smooth_mm, ..as_drawn() }).unwrap();
    close(again(8.0).covered.area_mm2(&surface), once.covered.area_mm2(&surface), 0.006);
    for (a, b) in once.covered.distance_mm.iter().zip(&again(0.0).covered.distance_mm) {
        assert!((a - b).abs() < 0.02, "{a} {b}");
    }
}

#[test]
fn a_keep_clear_disc_is_taken_out_with_its_margin() {
    let shape = CYLINDER;
    let (_, surface) = shape.surface::<Surface>(120.0, 120.0, 1.0, 0.35, 8);
    let made = |x: f64| {
        let clear = ExtraRegion {
            kind: RegionKind::KeepClear { margin_mm: 4.0 },
            sources: vec![Source::Strokes { dabs: vec![dab(shape, x, 2.0, 6.0, false)] }],
        };
        let sources = vec![outline(shape, &square(28.0))];
        make(&surface, &ZoneSettings { sources, regions: vec![clear], ..as_drawn() }).unwrap()
    };
    let zone = made(3.0);
    close(zone.covered.area_mm2(&surface), 56.0 * 56.0 - PI * 100.0, 0.003);
    assert_eq!(zone.covered.edges.len(), 2);
    assert!(zone.notices.is_empty());
    assert_eq!(made(45.0).notices.len(), 1);
}

#[test]
fn reliefs_and_reinforcements_keep_their_own_edges() {
    let shape = CYLINDER;
    let (flat, surface) = shape.surface::<Surface>(120.0, 120.0, 1.0, 0.35, 8);
    let spot = vec![Source::Strokes { dabs: vec![dab(shape, 3.0, 4.0, 9.0, false)] }];
    let relief = RegionKind::Relief { depth_mm: 4.0, falloff_mm: 10.0 };
    let thicker = RegionKind::Reinforcement { extra_mm: 1.5, falloff_mm: 6.0 };
    let settings = ZoneSettings {
        sources: vec![outline(shape, &square(28.0))],
        regions: [relief, thicker].map(|kind| ExtraRegion { kind, sources: spot.clone() }).to_vec(),
        ..as_drawn()
    };
    let zone = make(&surface, &settings).unwrap();
    assert_eq!((zone.reliefs[0].height_mm, zone.reliefs[0].falloff_mm), (4.0, 10.0));
    assert_eq!((zone.reinforcements[0].height_mm, zone.reinforcements[0].falloff_mm), (1.5, 6.0));
    assert_eq!(zone.reliefs[0].region, zone.reinforcements[0].region);
    for (v, at) in flat.iter().enumerate() {
        let truth = 9.0 - (at - p(3.0, 4.0)).norm();
        if truth.abs() < 35.0 {
            let found = f64::from(zone.reliefs[0].region.distance_mm[v]);
            // The edge is a polygon with a corner on each triangle side: sagitta 1.5²/8r = 0.03 mm.
            assert!((found - truth).abs() < 0.04 + 0.01 * truth.abs(), "{at:?}: {found} for {truth}");
        }
    }
}

#[test]
fn a_pen_line_gives_the_disc_it_goes_round() {
    let shape = CYLINDER;
    let (_, surface) = shape.surface::<Surface>(120.0, 120.0, 1.0, 0.35, 8);
    let source = Source::Line { points_mm: on(shape, &circle(p(2.0, -3.0), 30.0, 190)), inside_mm: None };
    let zone = make(&surface, &ZoneSettings { sources: vec![source], ..as_drawn() }).unwrap();
    close(zone.covered.area_mm2(&surface), PI * 900.0, 0.003);
}

/// A whole tube, open at both ends.
fn tube(radius: f64, length: f64, step: f64) -> Surface {
    even_tube(radius, length, step).build()
}

#[test]
fn a_zone_at_an_open_end_stops_three_millimetres_before_it_and_says_so() {
    let skin = tube(30.0, 100.0, 1.0);
    let dabs = vec![Dab { at_mm: Point3::new(30.0, 0.0, 40.0), radius_mm: 30.0, remove: false }];
    let sources = vec![Source::Strokes { dabs }];
    let zone = make(&skin, &ZoneSettings { sources, ..as_drawn() }).unwrap();
    // A disc of radius 30 cut off 7 mm beyond its middle.
    let (r, h) = (30.0_f64, 7.0_f64);
    let segment = r * r * (h / r).acos() - h * (r * r - h * h).sqrt();
    close(zone.covered.area_mm2(&skin), PI * r * r - segment, 0.006);
    let top = zone.covered.edges[0].iter().map(|p| p.z).fold(f32::MIN, f32::max);
    assert!((top - 47.0).abs() < 0.05, "{top}");
    assert_eq!(zone.notices.len(), 1);
    // At the height of the dab's middle it covers 60 mm of the circumference.
    let there = zone.coverage(&skin, 5.0).into_iter().find(|c| (c.z_mm - 40.0).abs() < 1e-3).unwrap();
    close(f64::from(there.share), 60.0 / (2.0 * PI * 30.0), 0.01);
    close(f64::from(there.around_mm), 2.0 * PI * 30.0, 0.01);
}

#[test]
fn the_side_with_the_seed_is_taken_even_when_it_is_the_bigger() {
    let skin = tube(30.0, 100.0, 1.0);
    // Round the whole tube, 20 mm from one end.
    let ring: Vec<Point3<f32>> = (0..12)
        .map(|i| f64::from(i) * PI / 6.0)
        .map(|a| Point3::new((30.0 * a.cos()) as f32, (30.0 * a.sin()) as f32, -30.0))
        .collect();
    let area = |inside_mm| {
        let sources = vec![Source::Outline { corners_mm: ring.clone(), inside_mm }];
        make(&skin, &ZoneSettings { sources, ..as_drawn() }).unwrap().area_cm2(&skin)
    };
    let band = 2.0 * PI * 30.0 / 100.0;
    close(area(None), band * 17.0, 0.01);
    close(area(Some(Point3::new(30.0, 0.0, 10.0))), band * 77.0, 0.01);
}

#[test]
fn what_cannot_be_is_refused_with_the_place() {
    let shape = Rolled::Plane;
    let (_, surface) = shape.surface::<Surface>(120.0, 120.0, 1.0, 0.35, 8);
    let with = |sources: Vec<Source>| ZoneSettings { sources, ..as_drawn() };

    let eight = with(vec![outline(shape, &[p(-20.0, -20.0), p(20.0, 20.0), p(20.0, -20.0), p(-20.0, 20.0)])]);
    let Err(ZoneError::Crosses { at, .. }) = make(&surface, &eight) else { panic!("a figure of eight was taken") };
    assert!(at.coords.norm() < 0.5, "{at}");

    let apart = Source::Strokes { dabs: vec![dab(shape, -30.0, 0.0, 12.0, false), dab(shape, 30.0, 5.0, 10.0, false)] };
    let Err(ZoneError::Pieces { pieces }) = make(&surface, &with(vec![apart])) else { panic!("two pieces were taken") };
    assert!((pieces[0].1 - Point3::new(-30.0, 0.0, 0.0)).norm() < 0.5 && (pieces[0].0 - PI * 1.44).abs() < 0.1);

    assert!(matches!(make(&surface, &with(vec![])), Err(ZoneError::Empty { .. })));
    let thin = Source::Strokes { dabs: vec![dab(shape, 0.0, 0.0, 3.0, false)] };
    assert!(matches!(make(&surface, &with(vec![thin])), Err(ZoneError::TooThin { .. })));
    let off = Source::Strokes { dabs: vec![Dab { at_mm: Point3::new(0.0, 0.0, 40.0), radius_mm: 5.0, remove: false }] };
    let Err(ZoneError::OffSkin { distance_mm, .. }) = make(&surface, &with(vec![off])) else { panic!("taken") };
    assert!((distance_mm - 40.0).abs() < 0.01);
    let shrunk = ZoneSettings { grow_mm: -25.0, ..with(vec![outline(shape, &square(20.0))]) };
    assert!(matches!(make(&surface, &shrunk), Err(ZoneError::Empty { .. })));
    let wild = ZoneSettings { smooth_mm: f32::NAN, ..as_drawn() };
    assert!(make(&surface, &wild).unwrap_err().to_string().contains("smooth_mm"));
    let two = with(vec![Source::Outline { corners_mm: vec![Point3::origin(); 2], inside_mm: None }]);
    assert!(make(&surface, &two).unwrap_err().to_string().contains("sources[0].outline.corners_mm"));
}

#[test]
fn a_cancelled_job_stops() {
    let (_, surface) = Rolled::Plane.surface::<Surface>(120.0, 120.0, 1.0, 0.2, 8);
    let job = Job::silent();
    job.cancel();
    let sources = vec![outline(Rolled::Plane, &square(20.0))];
    let stopped = zone::make(&surface, &ZoneSettings { sources, ..as_drawn() }, &job);
    assert!(matches!(stopped, Err(ZoneError::Cancelled(_))));
}

#[test]
fn settings_survive_json_and_refuse_unknown_fields() {
    let settings = ZoneSettings {
        sources: vec![
            outline(Rolled::Plane, &dense(&square(20.0), true, 13.0)),
            Source::Strokes { dabs: vec![dab(Rolled::Plane, 1.0, 2.0, 3.0, true)] },
        ],
        grow_mm: 2.5,
        smooth_mm: 3.0,
        tolerance_mm: 1.5,
        pulls: vec![zone::EdgePull { at_mm: Point3::new(20.0, 0.0, 1.0), by_mm: -4.0 }],
        regions: vec![ExtraRegion { kind: RegionKind::KeepClear { margin_mm: 2.0 }, sources: vec![] }],
    };
    let text = serde_json::to_string(&settings).unwrap();
    assert_eq!(serde_json::from_str::<ZoneSettings>(&text).unwrap(), settings);
    assert!(serde_json::from_str::<ZoneSettings>(&text.replace("grow_mm", "grow_cm")).is_err());
}
