//! Spacing, clearance and ends of ribs on skins with a closed form.

use std::sync::Arc;

use super::*;
use crate::sample_skins::{cylinder, flat, inside_box, zone};
use crate::{Chart, DesignItem, Opening, Shape};

const RADIUS: f32 = 40.0;

fn unroll(p: &Point3<f32>) -> [f32; 2] {
    [RADIUS * p.y.atan2(p.x), p.z]
}

fn setting(layout: RibLayout) -> Ribs {
    Ribs { layout, height_mm: 2.0, width_mm: 4.0, spacing_mm: 16.0 }
}

fn tube() -> (Surface, Zone) {
    let skin = cylinder(RADIUS, 130.0, 1.4);
    let zone = zone(&skin, |p| inside_box([50.0, 50.0], unroll(p)));
    (skin, zone)
}

fn placed(skin: &Surface, zone: &Zone, ribs: Ribs, layout: &mut Layout) {
    let design = Design { ribs: Some(ribs), ..Design::default() };
    place_ribs(skin, zone, &design, layout, &Job::silent()).unwrap();
}

#[test]
fn rows_on_a_tube_are_straight_and_evenly_spaced() {
    let (skin, zone) = tube();
    // From rim to rim.
    let half = 50.0;
    for (layout, across) in [(RibLayout::Along, 0), (RibLayout::Around, 1)] {
        let mut found = Layout::default();
        placed(&skin, &zone, setting(layout), &mut found);
        // −32, −16, 0, 16 and 32 mm.
        assert_eq!(found.rib_lines.len(), 5, "{layout:?}");
        let first = unroll(&found.rib_lines[0][0])[across];
        assert!(first.abs() < 0.5, "{first}");
        for line in &found.rib_lines {
            let flat: Vec<[f32; 2]> = line.iter().map(unroll).collect();
            let at = first + ((flat[0][across] - first) / 16.0).round() * 16.0;
            for p in &flat {
                assert!((p[across] - at).abs() < 0.15, "{layout:?} {p:?}");
            }
            for end in [flat[0], flat[flat.len() - 1]] {
                assert!((end[1 - across].abs() - half).abs() < 1.0, "{layout:?} {end:?}");
            }
        }
        let off = |p: &Point3<f32>| {
            let q = unroll(p);
            let along = (q[1 - across].abs() - half).max(0.0);
            let near = (-2..=2).map(|k| (q[across] - first - 16.0 * k as f32).abs()).fold(f32::INFINITY, f32::min);
            near.hypot(along)
        };
        for (p, d) in skin.mesh().points.iter().zip(&found.rib_distance_mm) {
            if off(p) < 8.0 {
                assert!((off(p) - d).abs() < 0.4, "{layout:?} {} {d}", off(p));
            }
        }
    }
}

#[test]
fn crossed_rows_are_both() {
    let (skin, zone) = tube();
    let mut found = Layout::default();
    placed(&skin, &zone, setting(RibLayout::Crossed), &mut found);
    assert_eq!(found.rib_lines.len(), 10);
}

#[test]
fn rings_round_a_whole_tube_close() {
    let skin = cylinder(RADIUS, 130.0, 1.4);
    let zone = zone(&skin, |p| 50.0 - p.z.abs());
    let mut found = Layout::default();
    placed(&skin, &zone, setting(RibLayout::Around), &mut found);
    assert_eq!(found.rib_lines.len(), 5);
    for line in &found.rib_lines {
        let length: f32 = line.windows(2).map(|w| (w[1] - w[0]).norm()).sum();
        assert!((length - std::f32::consts::TAU * RADIUS).abs() < 2.0, "{length}");
    }
}

#[test]
fn rows_along_a_whole_tube_keep_their_spacing_at_the_back() {
    let skin = cylinder(RADIUS, 130.0, 1.4);
    let zone = zone(&skin, |p| 50.0 - p.z.abs());
    let mut found = Layout::default();
    placed(&skin, &zone, setting(RibLayout::Along), &mut found);
    let mut at: Vec<f32> = found.rib_lines.iter().map(|l| unroll(&l[0])[0]).collect();
    at.sort_by(f32::total_cmp);
    assert!(at.len() >= 14, "{at:?}");
    assert!(at.windows(2).all(|w| w[1] - w[0] > 0.68 * 16.0), "{at:?}");
}

fn with_slot(skin: &Surface) -> Layout {
    with_slot_at(skin, 20.0)
}

fn with_slot_at(skin: &Surface, z: f32) -> Layout {
    let at = skin.nearest(&Point3::new(RADIUS, 0.0, z), None).unwrap();
    let chart = Arc::new(Chart::new(skin, &at, 0.0, 18.0, &Job::silent()).unwrap());
    let shape = Shape::Slot { from: [-10.5, 0.0], to: [10.5, 0.0], radius: 2.0 };
    Layout {
        openings: vec![Opening { chart, shape, part_of: None, item: DesignItem::Fitting(0) }],
        ..Layout::default()
    }
}

#[test]
fn every_layout_stays_clear_of_a_slot() {
    let (skin, zone) = tube();
    for layout in RibLayout::ALL {
        let mut found = with_slot(&skin);
        let slot = found.openings[0].shape.clone();
        placed(&skin, &zone, setting(layout), &mut found);
        for p in found.rib_lines.iter().flatten().map(unroll) {
            // Foot 4 and wall 2; a smooth bow may come 0.4 nearer.
            assert!(slot.signed_distance([p[0], p[1] - 20.0]) > 6.0 - 0.55, "{layout:?} {p:?}");
        }
        assert!(found.rib_lines.iter().all(|l| l.len() > 1));
    }
}

#[test]
fn rows_bow_round_a_slot_and_stay_whole() {
    let (skin, zone) = tube();
    let mut found = with_slot(&skin);
    placed(&skin, &zone, setting(RibLayout::Along), &mut found);
    let lines: Vec<Vec<[f32; 2]>> = found.rib_lines.iter().map(|l| l.iter().map(unroll).collect()).collect();
    // None in the middle, where the slot is: at ±8, ±24 and so on, each from rim to rim.
    assert!(lines.len() >= 4 && lines.len().is_multiple_of(2), "{}", lines.len());
    for line in &lines {
        let ends = [line[0][1], line[line.len() - 1][1]];
        assert!(ends.iter().all(|z| z.abs() > 49.0) && ends[0] * ends[1] < 0.0, "{ends:?}");
        // A bow, not a corner: the heading turns little from step to step.
        let turns = line.windows(3).map(|w| {
            let [a, b] = [[w[1][0] - w[0][0], w[1][1] - w[0][1]], [w[2][0] - w[1][0], w[2][1] - w[1][1]]];
            (a[0] * b[1] - a[1] * b[0]).atan2(a[0] * b[0] + a[1] * b[1]).abs()
        });
        let sharpest = turns.fold(0.0, f32::max).to_degrees();
        assert!(sharpest < 16.0, "{sharpest}");
    }
    // Left and right alike.
    for line in &lines {
        let image = |p: &[f32; 2]| lines.iter().flatten().map(|q| (p[0] + q[0]).hypot(p[1] - q[1])).fold(9.9, f32::min);
        let off = line.iter().map(image).fold(0.0, f32::max);
        assert!(off < 1.3, "{off}");
    }
}

#[test]
fn a_tree_starts_at_the_load_and_reaches_all_sides() {
    let skin = flat(150.0, 150.0, 1.5);
    let mut zone = zone(&skin, |p| inside_box([60.0, 60.0], [p.x, p.z]));
    let frame = skin.mesh().points.iter().map(|p| 8.0 - (p.x - 9.0).hypot(p.z + 6.0)).collect();
    zone.reinforcements.push(zone::Bump {
        region: zone::Region { distance_mm: frame, edges: Vec::new() },
        height_mm: 1.0,
        falloff_mm: 5.0,
    });
    let mut found = Layout::default();
    placed(&skin, &zone, Ribs { spacing_mm: 30.0, ..setting(RibLayout::Branching) }, &mut found);
    let load = Point3::new(9.0, 0.0, -6.0);
    let at_load = found.rib_lines.iter().filter(|l| l.iter().any(|p| (p - load).norm() < 1.6)).count();
    assert!(at_load >= 4, "{at_load}");
    // More ends than stems: it branches.
    assert!(found.rib_lines.len() > at_load + 4, "{} lines, {at_load} at the load", found.rib_lines.len());
    for side in [[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]] {
        let far = found.rib_lines.iter().flatten().map(|p| p.x * side[0] + p.z * side[1]).fold(0.0, f32::max);
        assert!(far > 60.0 - 10.7 - 4.0, "{side:?} {far}");
    }
}

#[test]
fn a_tree_starts_elsewhere_where_the_rim_is_on_the_load_and_at_a_frame_where_a_slot_is() {
    let skin = flat(150.0, 150.0, 1.5);
    let frame = |x: f32, z: f32| zone::Bump {
        region: zone::Region {
            distance_mm: skin.mesh().points.iter().map(|p| 6.0 - (p.x - x).hypot(p.z - z)).collect(),
            edges: Vec::new(),
        },
        height_mm: 1.0,
        falloff_mm: 5.0,
    };
    let ribs = Ribs { spacing_mm: 30.0, ..setting(RibLayout::Branching) };
    let on_the_rim = Point3::new(0.0, 0.0, 56.0);
    let under_the_slot = Point3::new(20.0, 0.0, -10.0);
    for (first, then) in [(on_the_rim, Point3::new(-15.0, 0.0, 10.0)), (under_the_slot, Point3::new(-15.0, 0.0, 10.0))]
    {
        let mut zone = zone(&skin, |p| inside_box([60.0, 60.0], [p.x, p.z]));
        zone.reinforcements.extend([frame(first.x, first.z), frame(then.x, then.z)]);
        let at = skin.nearest(&under_the_slot, None).unwrap();
        let chart = Arc::new(Chart::new(&skin, &at, 0.0, 22.0, &Job::silent()).unwrap());
        let shape = Shape::Slot { from: [-12.0, 0.0], to: [12.0, 0.0], radius: 2.0 };
        let openings = vec![Opening { chart, shape, part_of: None, item: DesignItem::Fitting(0) }];
        let mut found = Layout { openings, ..Layout::default() };
        placed(&skin, &zone, ribs, &mut found);
        if first == under_the_slot {
            let closed = |l: &&Vec<Point3<f32>>| (l[0] - l[l.len() - 1]).norm() < 1e-3;
            let frames: Vec<_> = found.rib_lines.iter().filter(closed).collect();
            assert_eq!(frames.len(), 1);
            // Foot 4 and wall 2 round a slot of 24 by 4.
            let slot = Shape::Slot { from: [-12.0, 0.0], to: [12.0, 0.0], radius: 2.0 };
            let off = |p: &Point3<f32>| slot.signed_distance([p.x - 20.0, p.z + 10.0]);
            assert!(frames[0].iter().all(|p| (off(p) - 6.0).abs() < 0.1), "{:?}", frames[0]);
            let begins = |l: &&Vec<Point3<f32>>| (off(&l[0]).min(off(&l[l.len() - 1])) - 6.0).abs() < 0.3;
            let on_frame = found.rib_lines.iter().filter(|l| !closed(l)).filter(begins).count();
            assert!(on_frame >= 4, "{on_frame}");
            continue;
        }
        let at_load = found.rib_lines.iter().filter(|l| l.iter().any(|p| (p - then).norm() < 1.6)).count();
        assert!(at_load >= 4, "{at_load} of {}", found.rib_lines.len());
        // A vertex at most a side of a triangle away.
        let said =
            |n: &String| [9, 10, 11].iter().any(|z| n.starts_with(&format!("Ribs branch from x -15, y 0, z {z} mm")));
        assert!(found.notices.iter().any(said), "{:?}", found.notices);
    }
}

/// A round plate of 55 mm, struck `z` mm above its middle: the directions from the middle in which its load paths reach
/// the rim, degrees, rising; all paths.
fn paths_of_a_disc(z: f32) -> (Vec<f64>, Vec<Vec<nalgebra::Point2<f64>>>) {
    let (skin, job) = (flat(150.0, 150.0, 1.5), Job::silent());
    let zone = zone(&skin, |p| 55.0 - p.x.hypot(p.z));
    let ribs = Ribs { spacing_mm: 29.0, ..setting(RibLayout::Branching) };
    let open = FreeSpace::inside(&zone.covered.distance_mm, 8.0);
    let edge_mm = &zone.covered.distance_mm[..];
    let board = Board::new(&skin, &zone, "shell.ribs.layout", &job).unwrap();
    let middle = innermost(&skin, edge_mm).unwrap();
    let centre = board.place_of(&skin.nearest(&Point3::origin(), None).unwrap()).unwrap();
    let room = open.clone();
    let context =
        RibContext { skin: &skin, ribs: &ribs, room, open, edge_mm, rim_margin_mm: 8.0, board, middle, job: &job };
    let load = TangentFrame::new(&skin, skin.nearest(&Point3::new(0.0, 0.0, z), None).unwrap());
    let plate = Plate::new(&skin, edge_mm, &[], &vec![false; edge_mm.len()], &job).unwrap().unwrap();
    let paths = load_paths::load_paths(&context, &zone, &plate, &load, &[]).unwrap();
    let ends = paths.lines.iter().map(|line| line[line.len() - 1] - centre);
    let mut ways: Vec<f64> = ends
        .inspect(|end| assert!((end.norm() - 55.0).abs() < 0.5, "{end}"))
        .map(|end| end.y.atan2(end.x).to_degrees().rem_euclid(360.0))
        .collect();
    ways.sort_by(f64::total_cmp);
    (ways, paths.lines)
}

#[test]
fn load_paths_of_a_round_plate_struck_in_the_middle_are_evenly_spread_radii() {
    let (ways, lines) = paths_of_a_disc(0.0);
    assert_eq!(ways.len(), 12);
    assert!(ways.windows(2).all(|w| (w[1] - w[0] - 30.0).abs() < 3.0), "{ways:?}");
    for line in &lines {
        let way = (line[line.len() - 1] - line[0]).normalize();
        let off = line.iter().map(|p| way.perp(&(p - line[0])).abs()).fold(0.0, f64::max);
        assert!(off < 1.0, "{off}");
    }
}

/// The edge of a membrane takes of a load at the share ρ of its radius (1 − ρ²)/(1 − 2ρ cos θ + ρ²)/2π for each radian
/// (Poisson's kernel), and of an even load the same everywhere.
#[test]
fn load_paths_of_a_round_plate_take_equal_shares_wherever_it_is_struck() {
    let (ways, _) = paths_of_a_disc(18.0);
    assert_eq!(ways.len(), 12);
    let rho = 18.0 / 55.0_f64;
    let uneven = |blow: f64| {
        let taken = |from: f64, to: f64| {
            let step = (to - from).rem_euclid(360.0) / 200.0;
            let all = (0..200).map(|k| (from + step * (f64::from(k) + 0.5) - 90.0).to_radians());
            let kernel = |turn: f64| (1.0 - rho * rho) / (1.0 - 2.0 * rho * turn.cos() + rho * rho);
            all.map(|turn| (blow * kernel(turn) + 1.0 - blow) * step / 360.0).sum::<f64>()
        };
        (0..12).map(|n| (taken(ways[n], ways[(n + 1) % 12]) * 12.0 - 1.0).abs()).fold(0.0, f64::max)
    };
    let best = [0.25, 0.5, 0.75, 1.0].map(uneven).into_iter().fold(f64::INFINITY, f64::min);
    assert!(best < 0.1, "{best} {ways:?}");
}

#[test]
fn branches_end_on_the_rim_on_a_frame_or_on_a_stem_and_none_before_a_slot_without_a_frame() {
    let (skin, zone) = tube();
    for z in [20.0, 38.0] {
        let mut found = with_slot_at(&skin, z);
        let slot = found.openings[0].shape.clone();
        placed(&skin, &zone, Ribs { spacing_mm: 26.0, ..setting(RibLayout::Branching) }, &mut found);
        let lines: Vec<Vec<[f32; 2]>> = found.rib_lines.iter().map(|l| l.iter().map(unroll).collect()).collect();
        assert_eq!(lines.iter().any(|l| l[0] == l[l.len() - 1]), z < 30.0, "a frame");
        let beside = |a: &[f32; 2], b: &[f32; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
        for (n, line) in lines.iter().enumerate().filter(|(_, l)| l[0] != l[l.len() - 1]) {
            for end in [line[0], line[line.len() - 1]] {
                let on_rim = inside_box([50.0, 50.0], end) < 2.5;
                let on_frame = z < 30.0 && (slot.signed_distance([end[0], end[1] - z]) - 6.0).abs() < 0.4;
                let others = lines.iter().enumerate().filter(|(k, _)| *k != n).flat_map(|(_, l)| l);
                let on_stem = others.map(|p| beside(p, &end)).fold(9.9, f32::min) < 1.1;
                assert!(on_rim || on_frame || on_stem, "slot at {z}: {end:?}");
            }
        }
    }
}

#[test]
fn diamonds_cross_evenly_mirror_each_other_and_end_on_a_frame() {
    let (skin, zone) = tube();
    let mut found = with_slot(&skin);
    placed(&skin, &zone, Ribs { spacing_mm: 24.0, ..setting(RibLayout::Diamond) }, &mut found);
    let lines: Vec<Vec<[f32; 2]>> = found.rib_lines.iter().map(|l| l.iter().map(unroll).collect()).collect();
    let (frames, ribs): (Vec<_>, Vec<_>) =
        lines.iter().partition(|l| (l[0][0] - l[l.len() - 1][0]).hypot(l[0][1] - l[l.len() - 1][1]) < 1e-3);
    assert_eq!(frames.len(), 1);
    let slot = &found.openings[0].shape;
    let off_slot = |p: &[f32; 2]| slot.signed_distance([p[0], p[1] - 20.0]);
    for line in &ribs {
        // 1.6 mm up for one aside, the one way or the other.
        for w in line.windows(2).filter(|w| (w[1][1] - w[0][1]).abs() > 1.0) {
            let slant = (w[1][0] - w[0][0]).abs() / (w[1][1] - w[0][1]).abs();
            assert!((slant * 1.6 - 1.0).abs() < 0.06, "{slant}");
        }
        for end in [line[0], line[line.len() - 1]] {
            let on_rim = inside_box([50.0, 50.0], end) < 2.5;
            assert!(on_rim || (off_slot(&end) - 6.0).abs() < 0.3, "{end:?}");
        }
    }
    // Where a rib meets the slot's own mirror axis another one does.
    for line in &ribs {
        let image = |p: &[f32; 2]| lines.iter().flatten().map(|q| (p[0] + q[0]).hypot(p[1] - q[1])).fold(9.9, f32::min);
        let off = line.iter().map(image).fold(0.0, f32::max);
        assert!(off < 1.5, "{off}");
    }
}

#[test]
fn rows_go_beside_a_slot_that_lies_along_the_middle_one() {
    let skin = flat(150.0, 150.0, 1.5);
    let zone = zone(&skin, |p| inside_box([40.0, 60.0], [p.x, p.z]));
    let at = skin.nearest(&Point3::origin(), None).unwrap();
    let chart = Arc::new(Chart::new(&skin, &at, 90.0, 70.0, &Job::silent()).unwrap());
    let shape = Shape::Slot { from: [-50.0, 0.0], to: [50.0, 0.0], radius: 2.0 };
    let openings = vec![Opening { chart, shape, part_of: None, item: DesignItem::Fitting(0) }];
    let mut found = Layout { openings, ..Layout::default() };
    // The next rows would be beyond the rim.
    placed(&skin, &zone, Ribs { spacing_mm: 60.0, ..setting(RibLayout::Along) }, &mut found);
    assert!(!found.rib_lines.is_empty());
    // Foot 4 and wall 2 beside a slot 4 wide.
    assert!(found.rib_lines.iter().flatten().all(|p| p.x.abs() > 8.0 - 0.15), "{:?}", found.rib_lines);
}

#[test]
fn what_cannot_be_is_refused_with_its_setting() {
    let (skin, zone) = tube();
    let refused = |ribs: Ribs, zone: &Zone| {
        let design = Design { ribs: Some(ribs), ..Design::default() };
        match place_ribs(&skin, zone, &design, &mut Layout::default(), &Job::silent()) {
            Err(ShellError::CannotBuild { setting, .. }) => setting,
            other => panic!("{other:?}"),
        }
    };
    let good = setting(RibLayout::Along);
    assert_eq!(refused(Ribs { spacing_mm: 7.0, ..good }, &zone), "shell.ribs.spacing_mm");
    assert_eq!(refused(Ribs { width_mm: f32::NAN, ..good }, &zone), "shell.ribs.width_mm");
    assert_eq!(refused(Ribs { height_mm: 0.0, ..good }, &zone), "shell.ribs.height_mm");
    let narrow = crate::sample_skins::zone(&skin, |p| inside_box([10.0, 50.0], unroll(p)));
    assert_eq!(refused(good, &narrow), "shell.ribs.width_mm");
}
