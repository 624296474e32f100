//! The trim line of a round zone on a cylinder of 40 mm, pulled by a grip: unrolled, the edge must run as the profile
//! says.
#![allow(clippy::unwrap_used)] // Clippy takes helpers of tests for ordinary code.

use std::f64::consts::PI;

use mesh::{Job, Surface};
use nalgebra::{Point2, Point3};
use test_shapes::patches::Rolled;
use zone::trim::{self, FALLOFF_MM, FALLOFF_SHARE};
use zone::{Dab, EdgePull, RegionKind, Source, Zone, ZoneSettings};

const TUBE: Rolled = Rolled::Cylinder { radius_mm: 40.0 };
/// Radius of the zone before it is pulled.
const ROUND_MM: f64 = 35.0;

fn tube() -> Surface {
    TUBE.surface::<Surface>(150.0, 150.0, 1.0, 0.35, 4).1
}

fn unrolled(p: &Point3<f32>) -> Point2<f64> {
    let p = p.cast::<f64>();
    Point2::new(40.0 * p.y.atan2(p.x), p.z)
}

fn make(skin: &Surface, settings: &ZoneSettings) -> Zone {
    zone::make(skin, settings, &Job::silent()).unwrap()
}

/// Settings that keep the edge as it was drawn.
fn as_drawn() -> ZoneSettings {
    ZoneSettings { tolerance_mm: 0.0, ..ZoneSettings::default() }
}

/// A zone whose edge is a circle of [`ROUND_MM`] after growing.
fn round(grow_mm: f32, smooth_mm: f32) -> ZoneSettings {
    let dab = Dab { at_mm: Point3::new(40.0, 0.0, 0.0), radius_mm: ROUND_MM as f32 - grow_mm, remove: false };
    ZoneSettings { sources: vec![Source::Strokes { dabs: vec![dab] }], grow_mm, smooth_mm, ..as_drawn() }
}

/// Pulls the grip nearest to `turn` (radians round the circle) straight out by `by_mm`; where the edge ran and runs.
fn pulled(skin: &Surface, settings: &ZoneSettings, turn: f64, by_mm: f64) -> (ZoneSettings, f64) {
    let before = make(skin, settings);
    let towards = |p: &Point3<f32>| (unrolled(p).y.atan2(unrolled(p).x) - turn).rem_euclid(2.0 * PI);
    let off = |p: &Point3<f32>| towards(p).min(2.0 * PI - towards(p));
    let grips = trim::grips(skin, &before.covered.edges);
    let grip = grips.iter().min_by(|a, b| off(&a.at_mm).total_cmp(&off(&b.at_mm))).unwrap();
    let (at, held) = (unrolled(&grip.at_mm), unrolled(&grip.at_mm).y.atan2(unrolled(&grip.at_mm).x));
    let to = at + at.coords.normalize() * by_mm;
    let hit = skin.nearest(&TUBE.place(&to).cast(), None).unwrap();
    let pulled = trim::pull(skin, &before.covered.edges, grip, &hit).unwrap();
    assert!((f64::from(pulled.pull.by_mm) - by_mm).abs() < 0.2, "{:?} for {by_mm}", pulled.pull);
    let mut after = settings.clone();
    after.pulls.push(pulled.pull);
    (after, held)
}

/// Farthest that the edge lies from the profile, within the falloff and beyond it.
fn off_profile(zone: &Zone, held: f64, by_mm: f64) -> (f64, f64) {
    let falloff = f64::from(FALLOFF_MM).max(f64::from(FALLOFF_SHARE) * by_mm.abs());
    let mut worst = (0.0_f64, 0.0_f64);
    assert_eq!(zone.covered.edges.len(), 1, "no island and no hole");
    for p in zone.covered.edges[0].iter().map(unrolled) {
        let turn = (p.y.atan2(p.x) - held + PI).rem_euclid(2.0 * PI) - PI;
        let beside = ROUND_MM * turn;
        let near = beside.abs() < falloff;
        let moved = if near { by_mm * (1.0 - (beside / falloff).powi(2)).powi(3) } else { 0.0 };
        let off = (p.coords.norm() - ROUND_MM - moved).abs();
        let worst = if near { &mut worst.0 } else { &mut worst.1 };
        *worst = worst.max(off);
    }
    worst
}

#[test]
fn the_edge_follows_the_grip_out_and_in_and_stays_where_it_was_elsewhere() {
    let skin = tube();
    for (by_mm, grow_mm, smooth_mm) in
        [(8.0, 0.0, 0.0), (-8.0, 0.0, 0.0), (3.0, 0.0, 5.0), (-15.0, 0.0, 5.0), (15.0, 4.0, 5.0), (8.0, -6.0, 5.0)]
    {
        let settings = round(grow_mm, smooth_mm);
        let (after, held) = pulled(&skin, &settings, 0.7, by_mm);
        let (near, beyond) = off_profile(&make(&skin, &after), held, by_mm);
        println!("by {by_mm}, grown {grow_mm}, smoothed {smooth_mm}: {near:.3} mm off within, {beyond:.3} mm beyond");
        assert!(near < 0.2 && beyond < 0.1, "by {by_mm}, grown {grow_mm}: {near} within, {beyond} beyond");
    }
}

/// A fair edge is fair again once it was pulled, near where the hand let it go.
#[test]
fn a_pulled_edge_is_fair_again() {
    let skin = tube();
    for by_mm in [10.0, -10.0] {
        let settings = ZoneSettings { tolerance_mm: 1.5, ..round(0.0, 0.0) };
        let (after, held) = pulled(&skin, &settings, 0.7, by_mm);
        let zone = make(&skin, &after);
        let (near, _) = off_profile(&zone, held, by_mm);
        let trim = zone.trim.unwrap();
        println!("by {by_mm}: {near:.3} mm off, {trim:?}");
        // 0.4 mm to become fair, and what the round line itself was moved by; both square to the edge, whose slope
        // against the circle is up to 1.72 · 10 / 24 (the steepest of (1 − x²)³).
        let slant = 1.0_f64.hypot(1.72 * 10.0 / 24.0);
        assert!(near < (0.4 + f64::from(trim.farthest_mm)) * slant, "{near} {trim:?}");
        assert!(trim.farthest_mm < 0.5, "{trim:?}");
        assert!(trim.tightest_mm > 8.0, "{trim:?}");
    }
}

#[test]
fn grips_stand_evenly_and_a_small_pull_or_a_foreign_grip_does_nothing() {
    let skin = tube();
    let zone = make(&skin, &round(0.0, 0.0));
    let grips = trim::grips(&skin, &zone.covered.edges);
    // 2π · 35 mm = 220 mm: nine grips.
    assert_eq!(grips.len(), 9);
    for pair in grips.windows(2) {
        let apart = (unrolled(&pair[0].at_mm) - unrolled(&pair[1].at_mm)).norm();
        assert!((apart - 2.0 * ROUND_MM * (PI / 9.0).sin()).abs() < 0.5, "{apart}");
        let out = unrolled(&(pair[0].at_mm + pair[0].outward * 0.1)) - unrolled(&pair[0].at_mm);
        assert!(out.dot(&unrolled(&pair[0].at_mm).coords.normalize()) > 0.099, "{out}");
    }
    let small = make(
        &skin,
        &ZoneSettings {
            sources: vec![Source::Strokes {
                dabs: vec![Dab { at_mm: Point3::new(40.0, 0.0, 0.0), radius_mm: 9.0, remove: false }],
            }],
            ..as_drawn()
        },
    );
    assert_eq!(trim::grips(&skin, &small.covered.edges).len(), 6);
    let here = skin.nearest(&grips[0].at_mm, None).unwrap();
    assert_eq!(trim::pull(&skin, &zone.covered.edges, &grips[0], &here), None);
    let far = skin.nearest(&Point3::new(40.0, 0.0, 60.0), None).unwrap();
    let foreign = trim::Grip { edge: 3, ..grips[0] };
    assert_eq!(trim::pull(&skin, &zone.covered.edges, &foreign, &far), None);
}

/// Two pulls at one place add up, and one taken back leaves the zone as it was.
#[test]
fn pulls_add_up_and_can_be_taken_back() {
    let skin = tube();
    let settings = round(2.0, 5.0);
    let before = make(&skin, &settings);
    let (mut after, held) = pulled(&skin, &settings, 2.0, 5.0);
    let once = make(&skin, &after);
    let at = Point2::new(held.cos(), held.sin()) * (ROUND_MM + 5.0);
    after.pulls.push(EdgePull { at_mm: TUBE.place(&at).cast(), by_mm: 5.0 });
    let (near, _) = off_profile(&make(&skin, &after), held, 10.0);
    // Both fade over the same length, as 2.2 · 10 mm is less than that; the second is laid beside the bent edge.
    assert!(near < 1.5, "{near}");
    let reached = make(&skin, &after).covered.edges[0].iter().map(|p| unrolled(p).coords.norm()).fold(0.0, f64::max);
    assert!((reached - ROUND_MM - 10.0).abs() < 0.2, "{reached}");
    after.pulls.pop();
    assert_eq!(make(&skin, &after), once);
    after.pulls.pop();
    assert_eq!(make(&skin, &after), before);
}

/// A pull that meets no edge, and one through the other side, are left out and said.
#[test]
fn pulls_that_cannot_be_are_said() {
    let skin = tube();
    let settings = round(0.0, 0.0);
    let before = make(&skin, &settings);
    let lost = EdgePull { at_mm: Point3::new(40.0, 0.0, 0.0), by_mm: 5.0 };
    let across = EdgePull { at_mm: TUBE.place(&Point2::new(ROUND_MM, 0.0)).cast(), by_mm: -60.0 };
    for (pull, word) in [(lost, "no longer meets an edge"), (across, "would cross itself")] {
        let zone = make(&skin, &ZoneSettings { pulls: vec![pull], ..settings.clone() });
        assert!(zone.notices.iter().any(|n| n.contains(word)), "{word}: {:?}", zone.notices);
        assert_eq!(zone.covered, before.covered);
    }
}

/// The edge along a keep-clear region can be pulled in, and is not pulled over it.
#[test]
fn an_edge_that_something_else_made_can_be_pulled_in_and_not_out() {
    let skin = tube();
    let mut settings = round(0.0, 5.0);
    // A spot of 20 + 3 mm about (30, 0) stays clear.
    let spot = Dab { at_mm: TUBE.place(&Point2::new(30.0, 0.0)).cast(), radius_mm: 20.0, remove: false };
    let kind = RegionKind::KeepClear { margin_mm: 3.0 };
    settings.regions.push(zone::ExtraRegion { kind, sources: vec![Source::Strokes { dabs: vec![spot] }] });
    let before = make(&skin, &settings);
    // The edge crosses the u axis at 30 − 23 = 7.
    let at = skin.nearest(&TUBE.place(&Point2::new(7.0, 0.0)).cast(), None).unwrap();
    assert!(skin.interpolate(&before.covered.distance_mm, &at).abs() < 0.3);
    let edges = &before.covered.edges;
    let grips = trim::grips(&skin, edges);
    let grip = grips.iter().min_by(|a, b| (a.at_mm - at.point).norm().total_cmp(&(b.at_mm - at.point).norm())).unwrap();
    for (to_u, lies_u) in [(-1.0, -1.0), (15.0, 7.0)] {
        let to = skin.nearest(&TUBE.place(&Point2::new(to_u, unrolled(&grip.at_mm).y)).cast(), None).unwrap();
        let pulled = trim::pull(&skin, edges, grip, &to).unwrap();
        assert!(pulled.pull.by_mm.abs() > 5.0);
        let after = make(&skin, &ZoneSettings { pulls: vec![pulled.pull], ..settings.clone() });
        let apart = |p: &Point3<f32>| (unrolled(p) - Point2::new(30.0, 0.0)).norm();
        assert!(after.covered.edges[0].iter().all(|p| apart(p) > 22.8), "pulled to {to_u}");
        let lies = skin.nearest(&TUBE.place(&Point2::new(lies_u, unrolled(&grip.at_mm).y)).cast(), None).unwrap();
        let off = skin.interpolate(&after.covered.distance_mm, &lies);
        // Where it is held the round spot is up to a millimetre beside its nearest point.
        assert!(off.abs() < 1.0, "pulled to {to_u}: {off}");
    }
}
