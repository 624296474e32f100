//! Counts, walls and shares of vents on skins with a closed form.

use mesh::{Job, Surface};
use nalgebra::Point3;
use proptest::prelude::*;
use zone::Zone;

use super::*;
use crate::sample_skins::{cylinder, flat, inside_box, sphere, zone};
use crate::{Emboss, RibLayout, Ribs};

fn vents(kind: VentKind, size_mm: f32, ligament_mm: f32) -> Vents {
    Vents { kind, size_mm, ligament_mm, rim_distance_mm: 5.0, seed: 7, ..Vents::USUAL }
}

fn placed(skin: &Surface, zone: &Zone, vents: Vents) -> Layout {
    let design = Design { vents: Some(vents), ..Design::default() };
    let mut layout = Layout::default();
    place_vents(skin, zone, &design, &mut layout, &Job::silent()).unwrap();
    layout
}

/// Points of a shape's outline, by bisection along rays from its middle: independent of how it was made.
fn outline_of(shape: &Shape) -> Vec<[f32; 2]> {
    let reach = shape.reach() + 1.0;
    (0..180)
        .map(|k| (k as f32 * std::f32::consts::TAU / 180.0).sin_cos())
        .map(|(s, c)| {
            let (mut low, mut high) = (0.0, reach);
            for _ in 0..30 {
                let middle = 0.5 * (low + high);
                if shape.signed_distance([middle * c, middle * s]) < 0.0 { low = middle } else { high = middle }
            }
            [low * c, low * s]
        })
        .collect()
}

/// A way to lay points of the skin out flat without changing any length.
type Unroll = fn(&Point3<f32>) -> [f32; 2];

const FLAT: Unroll = |p| [p.x, p.z];
const RADIUS: f32 = 40.0;
const TUBE: Unroll = |p| [RADIUS * p.y.atan2(p.x), p.z];
/// In the middle of a wall of 3 mm that stands 3 mm off the skin, where the walls between vents are told.
const MIDDLE_MM: f32 = 4.5;
const OVER_TUBE: Unroll = |p| [(RADIUS + MIDDLE_MM) * p.y.atan2(p.x), p.z];

fn outlines(layout: &Layout, unroll: Unroll) -> Vec<Vec<[f32; 2]>> {
    let moved = |opening: &Opening| {
        let middle = unroll(&opening.chart.centre.point);
        outline_of(&opening.shape).into_iter().map(|p| [middle[0] + p[0], middle[1] + p[1]]).collect()
    };
    layout.openings.iter().filter(|c| c.item == DesignItem::Vent).map(moved).collect()
}

/// Least distance between points of different outlines.
fn least_wall(outlines: &[Vec<[f32; 2]>]) -> f32 {
    let boxes: Vec<[f32; 4]> = outlines
        .iter()
        .map(|o| {
            o.iter().fold([f32::INFINITY; 4], |b, p| [b[0].min(p[0]), b[1].min(p[1]), b[2].min(-p[0]), b[3].min(-p[1])])
        })
        .collect();
    let mut least = f32::INFINITY;
    for (i, a) in outlines.iter().enumerate() {
        for (j, b) in outlines[..i].iter().enumerate() {
            let (p, q) = (boxes[i], boxes[j]);
            if (0..2).any(|k| (p[k] + q[k + 2]).max(q[k] + p[k + 2]) > least.min(8.0)) {
                continue;
            }
            for p in a {
                for q in b {
                    least = least.min((p[0] - q[0]).hypot(p[1] - q[1]));
                }
            }
        }
    }
    least
}

const KINDS: [VentKind; 6] = VentKind::ALL;

#[test]
fn walls_and_rim_hold_on_a_plane() {
    let skin = flat(130.0, 130.0, 1.5);
    let half = [50.0, 45.0];
    let zone = zone(&skin, |p| inside_box(half, [p.x, p.z]));
    for kind in KINDS {
        let layout = placed(&skin, &zone, vents(kind, 6.0, 2.4));
        let outlines = outlines(&layout, FLAT);
        let wall = least_wall(&outlines);
        assert!(wall >= 2.4 - 0.05, "{kind:?}: wall {wall}");
        let rim = outlines.iter().flatten().map(|p| inside_box(half, *p)).fold(f32::INFINITY, f32::min);
        assert!(rim >= 5.0 - 0.05, "{kind:?}: rim {rim}");
        let share = open_share(&layout, &zone, &skin);
        assert!(share > 0.25, "{kind:?}: {share}");
    }
}

#[test]
fn walls_and_rim_hold_on_a_tube() {
    let skin = cylinder(RADIUS, 130.0, 1.2);
    let half = [55.0, 50.0];
    let zone = zone(&skin, |p| inside_box(half, TUBE(p)));
    for kind in KINDS {
        let layout = placed(&skin, &zone, vents(kind, 8.0, 2.4));
        let wall = least_wall(&outlines(&layout, OVER_TUBE));
        assert!(wall >= 2.4 - 0.05, "{kind:?}: wall {wall}");
        let rim = outlines(&layout, TUBE).iter().flatten().map(|p| inside_box(half, *p)).fold(f32::INFINITY, f32::min);
        assert!(rim >= 5.0 - 0.05, "{kind:?}: rim {rim}");
    }
}

#[test]
fn walls_hold_on_a_ball() {
    let skin = sphere(60.0, 1.2);
    let zone = zone(&skin, |p| 60.0 * (0.75 - p.coords.angle(&nalgebra::Vector3::x())));
    for kind in KINDS {
        let layout = placed(&skin, &zone, vents(kind, 7.0, 2.4));
        let on_skin = |opening: &Opening| -> Vec<Point3<f32>> {
            outline_of(&opening.shape)
                .iter()
                .step_by(3)
                // What is drawn at its size in the middle of the wall spans less on the skin below.
                .map(|p| p.map(|x| x * 60.0 / (60.0 + MIDDLE_MM)))
                .map(|p| opening.chart.skin_point(&skin, p).unwrap().point)
                .collect()
        };
        let outlines: Vec<Vec<Point3<f32>>> = layout.openings.iter().map(on_skin).collect();
        let mut least = f32::INFINITY;
        for (i, a) in outlines.iter().enumerate() {
            for b in outlines[..i].iter().filter(|b| (b[0] - a[0]).norm() < 40.0) {
                for p in a {
                    for q in b {
                        least = least.min((60.0 + MIDDLE_MM) * p.coords.angle(&q.coords));
                    }
                }
            }
        }
        assert!(least >= 2.4 - 0.1, "{kind:?}: wall {least}");
        let rim = outlines.iter().flatten().map(|p| 60.0 * (0.75 - p.coords.angle(&nalgebra::Vector3::x())));
        let rim = rim.fold(f32::INFINITY, f32::min);
        assert!(rim >= 5.0 - 0.1, "{kind:?}: rim {rim}");
        // Triangles have the longest sides, and so the most wall.
        let least = if kind == VentKind::Triangle { 0.15 } else { 0.25 };
        let share = open_share(&layout, &zone, &skin);
        assert!(share > least, "{kind:?}: {share}");
    }
}

/// Vents of a regular pattern whose middle lies in a window well inside, and the share of the window they open.
fn inner_share(layout: &Layout, half: f32) -> f32 {
    let inner = layout.openings.iter().filter(|c| inside_box([half, half], FLAT(&c.chart.centre.point)) > 0.0);
    inner.map(|c| vent_area_mm2(&c.shape)).sum::<f32>() / (4.0 * half * half)
}

#[test]
fn a_flat_honeycomb_is_open_by_the_square_of_size_over_pitch() {
    let skin = flat(190.0, 190.0, 2.0);
    let zone = zone(&skin, |p| inside_box([90.0, 90.0], [p.x, p.z]));
    let layout = placed(&skin, &zone, vents(VentKind::Honeycomb, 8.0, 2.0));
    let share = inner_share(&layout, 70.0);
    assert!((share - 0.64).abs() < 0.025, "{share}");
    for opening in layout.openings.iter().filter(|c| inside_box([60.0, 60.0], FLAT(&c.chart.centre.point)) > 0.0) {
        let Shape::RoundedPolygon { corners, .. } = &opening.shape else { panic!("{:?}", opening.shape) };
        assert_eq!(corners.len(), 6);
    }
}

#[test]
fn flat_round_holes_are_open_as_densest_packing_says() {
    let skin = flat(190.0, 190.0, 2.0);
    let zone = zone(&skin, |p| inside_box([90.0, 90.0], [p.x, p.z]));
    let layout = placed(&skin, &zone, vents(VentKind::Round, 6.0, 3.0));
    // π / (2 √3) of the plane, times the square of size over pitch.
    let expected = 0.9069 * (6.0_f32 / 9.0).powi(2);
    let share = inner_share(&layout, 70.0);
    assert!((share - expected).abs() < 0.025, "{share} against {expected}");
}

#[test]
fn flat_slots_are_open_as_staggered_rows_say() {
    let skin = flat(190.0, 190.0, 2.0);
    let zone = zone(&skin, |p| inside_box([90.0, 90.0], [p.x, p.z]));
    let layout = placed(&skin, &zone, vents(VentKind::Slot, 4.0, 2.0));
    // A slot of 12 by 4 with round ends in every 6 by 14.
    let expected = (std::f32::consts::PI * 4.0 + 32.0) / (6.0 * 14.0);
    let share = inner_share(&layout, 70.0);
    assert!((share - expected).abs() < 0.04, "{share} against {expected}");
}

/// Least distance of an outline from the others, for those whose middle is well inside.
fn inner_walls(layout: &Layout, half: f32) -> Vec<f32> {
    let all = outlines(layout, FLAT);
    let middle =
        |o: &[[f32; 2]]| o.iter().fold([0.0; 2], |s, p| [s[0] + p[0], s[1] + p[1]]).map(|x| x / o.len() as f32);
    let inner = (0..all.len()).filter(|i| inside_box([half, half], middle(&all[*i])) > 0.0);
    inner
        .map(|i| {
            let others = all.iter().enumerate().filter(|(k, _)| *k != i).flat_map(|(_, o)| o);
            let near =
                |p: &[f32; 2]| all[i].iter().map(|q| (p[0] - q[0]).hypot(p[1] - q[1])).fold(f32::INFINITY, f32::min);
            others.map(near).fold(f32::INFINITY, f32::min)
        })
        .collect()
}

#[test]
fn flat_lozenges_and_triangles_have_even_walls_and_the_area_of_their_corners() {
    let skin = flat(110.0, 110.0, 1.5);
    let zone = zone(&skin, |p| inside_box([50.0, 50.0], [p.x, p.z]));
    // Rounding an angle a with radius r takes r² (1 / tan(a / 2) − (π − a) / 2) of the area.
    let corner = |a: f32| 1.0 / (0.5 * a).tan() - 0.5 * (std::f32::consts::PI - a);
    // A diamond of half axes a and 1.7 a, 8 between opposite sides.
    let half = 0.5 * 8.0 * (1.0 + 1.7_f32 * 1.7).sqrt() / 1.7;
    let acute = 2.0 * (1.0_f32 / 1.7).atan();
    let less = 2.0 * (0.12 * 8.0_f32).powi(2) * (corner(acute) + corner(std::f32::consts::PI - acute));
    let lozenge = 2.0 * 1.7 * half * half - less;
    let less = 3.0 * (0.1 * 8.0_f32).powi(2) * corner(std::f32::consts::FRAC_PI_3);
    let triangle = 8.0 * 8.0 / 3.0_f32.sqrt() - less;
    for (kind, area) in [(VentKind::Lozenge, lozenge), (VentKind::Triangle, triangle)] {
        let layout = placed(&skin, &zone, vents(kind, 8.0, 2.0));
        for opening in &layout.openings {
            let found = vent_area_mm2(&opening.shape);
            assert!((found / area - 1.0).abs() < 0.01, "{kind:?}: {found} for {area}");
        }
        let walls = inner_walls(&layout, 30.0);
        // The map of a flat sheet stretches nothing; points of outlines are up to 0.3 apart.
        assert!(walls.len() > 20 && walls.iter().all(|w| (1.95..2.15).contains(w)), "{kind:?}: {walls:?}");
    }
}

#[test]
fn vents_open_the_share_that_is_asked_for_or_say_what_they_do() {
    let skin = flat(190.0, 190.0, 2.0);
    let zone = zone(&skin, |p| inside_box([90.0, 90.0], [p.x, p.z]));
    for kind in KINDS {
        for percent in [12.0, 25.0] {
            let layout = placed(&skin, &zone, Vents { open_percent: Some(percent), ..vents(kind, 7.0, 2.0) });
            let share = 100.0 * open_share(&layout, &zone, &skin);
            assert!((share - f64::from(percent)).abs() < 2.5, "{kind:?}: {share} for {percent}");
            assert_eq!(layout.notices, Vec::<String>::new());
        }
        let layout = placed(&skin, &zone, Vents { open_percent: Some(58.0), ..vents(kind, 7.0, 5.0) });
        assert!(layout.notices.iter().any(|n| n.contains("and not 58 %")), "{:?}", layout.notices);
    }
}

#[test]
fn graded_vents_get_smaller_towards_the_rim_and_keep_their_walls() {
    let skin = flat(150.0, 150.0, 1.5);
    let zone = zone(&skin, |p| inside_box([65.0, 65.0], [p.x, p.z]));
    for kind in KINDS {
        let even = placed(&skin, &zone, vents(kind, 8.0, 2.4));
        let layout = placed(&skin, &zone, Vents { grade_percent: 50.0, ..vents(kind, 8.0, 2.4) });
        assert_eq!(layout.openings.len(), even.openings.len());
        assert!(least_wall(&outlines(&layout, FLAT)) >= 2.4 - 0.05, "{kind:?}");
        // Of an even kind each vent has its own share of the area that it had.
        let mut shares: Vec<(f32, f32)> = even
            .openings
            .iter()
            .zip(&layout.openings)
            .map(|(whole, graded)| {
                let depth = inside_box([65.0, 65.0], FLAT(&whole.chart.centre.point));
                (depth, (vent_area_mm2(&graded.shape) / vent_area_mm2(&whole.shape)).sqrt())
            })
            .collect();
        shares.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (first, last) = (shares[0].1, shares[shares.len() - 1].1);
        assert!((first - 0.5).abs() < 0.01 && (last - 1.0).abs() < 0.01, "{kind:?}: {first} {last}");
        assert!(shares.windows(2).all(|w| w[1].1 >= w[0].1 - 1e-3), "{kind:?}");
    }
}

#[test]
fn irregular_cells_are_spread_evenly_and_follow_the_seed() {
    let skin = flat(130.0, 130.0, 1.5);
    let zone = zone(&skin, |p| inside_box([60.0, 60.0], [p.x, p.z]));
    let setting = vents(VentKind::Cells, 8.0, 2.4);
    let layout = placed(&skin, &zone, setting);
    let middles: Vec<[f32; 2]> = layout.openings.iter().map(|c| FLAT(&c.chart.centre.point)).collect();
    let nearest: Vec<f32> = middles
        .iter()
        .filter(|p| inside_box([45.0, 45.0], **p) > 0.0)
        .map(|p| {
            let apart = |q: &[f32; 2]| (p[0] - q[0]).hypot(p[1] - q[1]);
            middles.iter().filter(|q| *q != p).map(apart).fold(f32::INFINITY, f32::min)
        })
        .collect();
    let mean = nearest.iter().sum::<f32>() / nearest.len() as f32;
    let spread = (nearest.iter().map(|d| (d - mean).powi(2)).sum::<f32>() / nearest.len() as f32).sqrt();
    // Points thrown at random have a mean of half of 1/√density and a deviation of half that mean (Clark and Evans
    // 1954); evenly spread ones come near the pitch, 10.4.
    assert!(mean > 0.78 * 10.4 && mean < 1.02 * 10.4, "{mean}");
    assert!(spread < 0.16 * mean, "{spread} of {mean}");
    assert_eq!(layout, placed(&skin, &zone, setting));
    assert_ne!(layout.openings, placed(&skin, &zone, Vents { seed: 8, ..setting }).openings);
}

#[test]
fn one_thread_and_two_lay_out_the_same() {
    let skin = cylinder(RADIUS, 110.0, 1.5);
    let zone = zone(&skin, |p| inside_box([50.0, 45.0], TUBE(p)));
    for kind in KINDS {
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| placed(&skin, &zone, vents(kind, 7.0, 2.0)))
        };
        let (one, two) = (on(1), on(2));
        for (i, (a, b)) in one.openings.iter().zip(&two.openings).enumerate() {
            assert!(a.shape == b.shape, "{kind:?} {i}: {:?} {:?}", a.shape, b.shape);
            assert!(a.chart.centre == b.chart.centre, "{kind:?} {i} {:?}", a.chart.centre);
            assert!(a.chart.vertices == b.chart.vertices, "{kind:?} {i}, chart");
        }
        assert!(one == two, "{kind:?}");
    }
}

/// A strap slot of 25 by 4 and a sunk seat, with a rib between them.
fn furnished(skin: &Surface) -> (Layout, Ribs) {
    let chart = |x: f32, z: f32| {
        let p = Point3::new(RADIUS * (x / RADIUS).cos(), RADIUS * (x / RADIUS).sin(), z);
        Arc::new(Chart::new(skin, &skin.nearest(&p, None).unwrap(), 0.0, 22.0, &Job::silent()).unwrap())
    };
    let mut layout = Layout::default();
    layout.openings.push(Opening {
        chart: chart(-25.0, 10.0),
        shape: Shape::Slot { from: [-10.5, 0.0], to: [10.5, 0.0], radius: 2.0 },
        part_of: None,
        item: DesignItem::Fitting(0),
    });
    layout.embosses.push(Emboss {
        chart: chart(22.0, -10.0),
        shape: Shape::RoundedBox { centre: [0.0, 0.0], direction: [1.0, 0.0], half: [14.0, 9.0], round: 2.0 },
        height_mm: -1.0,
        shades: None,
        item: DesignItem::Fitting(1),
    });
    layout.rib_lines.push(vec![Point3::new(RADIUS, 0.0, -40.0), Point3::new(RADIUS, 0.0, 40.0)]);
    layout.rib_distance_mm = skin.mesh().points.iter().map(|p| -inside_box([0.0, 40.0], TUBE(p))).collect();
    (layout, Ribs { layout: RibLayout::Along, height_mm: 2.0, width_mm: 4.0, spacing_mm: 30.0 })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn any_settings_keep_all_walls_or_say_why(
        kind in 0_usize..6, size in 2.5_f32..18.0, ligament in 1.6_f32..5.0, rim in 3.0_f32..12.0, seed: u64,
    ) {
        let skin = cylinder(RADIUS, 120.0, 1.3);
        let half = [52.0, 46.0];
        let zone = zone(&skin, |p| inside_box(half, TUBE(p)));
        let (mut layout, ribs) = furnished(&skin);
        let vents = Vents { kind: KINDS[kind], size_mm: size, ligament_mm: ligament, rim_distance_mm: rim, seed, ..Vents::USUAL };
        let design = Design { vents: Some(vents), ribs: Some(ribs), ..Design::default() };
        match place_vents(&skin, &zone, &design, &mut layout, &Job::silent()) {
            Ok(()) => {
                let wall = least_wall(&outlines(&layout, OVER_TUBE));
                prop_assert!(wall >= ligament - 0.05, "wall {wall}");
                let outlines = outlines(&layout, TUBE);
                let (slot, seat) = (&layout.openings[0], &layout.embosses[0]);
                for p in outlines.iter().flatten() {
                    prop_assert!(inside_box(half, *p) >= rim - 0.06);
                    // As far from the fittings as their own charts, in which they are cut, say.
                    let (s, c) = (p[0] / RADIUS).sin_cos();
                    let hit = skin.nearest(&Point3::new(RADIUS * c, RADIUS * s, p[1]), None).unwrap();
                    for (chart, shape) in [(&slot.chart, &slot.shape), (&seat.chart, &seat.shape)] {
                        let d = chart.uv_at(&skin, &hit).map_or(f32::INFINITY, |uv| shape.signed_distance(uv));
                        prop_assert!(d >= ligament - 0.1, "{d} at {p:?} {:?}", chart.uv_at(&skin, &hit));
                    }
                    prop_assert!(-inside_box([0.0, 40.0], *p) >= 4.0 + ligament - 0.06);
                }
            }
            Err(ShellError::CannotBuild { setting, .. }) => prop_assert!(setting.starts_with("shell.vents.")),
            Err(other) => prop_assert!(false, "{other}"),
        }
    }
}

#[test]
fn a_hollow_keeps_its_walls_outside() {
    // The inside of a tube: 6 mm off the skin everything around is 6/40 narrower.
    let tube = cylinder(RADIUS, 110.0, 1.2);
    let mut mesh = tube.mesh().clone();
    for t in &mut mesh.triangles {
        t.swap(1, 2);
    }
    let skin = Surface::new(mesh);
    let zone = zone(&skin, |p| inside_box([45.0, 40.0], TUBE(p)));
    for kind in KINDS {
        let layout = placed(&skin, &zone, vents(kind, 8.0, 2.4));
        let lifted = |opening: &Opening| -> Vec<[f32; 2]> {
            // Seen from inside, around runs the other way.
            let middle = TUBE(&opening.chart.centre.point);
            outline_of(&opening.shape).iter().map(|p| [(middle[0] - p[0]) * 34.0 / 40.0, middle[1] + p[1]]).collect()
        };
        let outlines: Vec<_> = layout.openings.iter().map(lifted).collect();
        let wall = least_wall(&outlines);
        assert!(wall >= 2.4 - 0.05, "{kind:?}: {wall}");
    }
}

#[test]
fn what_cannot_be_is_refused_with_its_setting() {
    let skin = flat(60.0, 60.0, 1.5);
    let zone = zone(&skin, |p| inside_box([20.0, 20.0], [p.x, p.z]));
    let refused = |vents: Vents| {
        let design = Design { vents: Some(vents), ..Design::default() };
        match place_vents(&skin, &zone, &design, &mut Layout::default(), &Job::silent()) {
            Err(ShellError::CannotBuild { setting, .. }) => setting,
            other => panic!("{other:?}"),
        }
    };
    let good = vents(VentKind::Round, 5.0, 2.0);
    assert_eq!(refused(Vents { size_mm: 25.0, rim_distance_mm: 12.0, ..good }), "shell.vents.size_mm");
    assert_eq!(refused(Vents { size_mm: f32::NAN, ..good }), "shell.vents.size_mm");
    assert_eq!(refused(Vents { ligament_mm: 1.2, ..good }), "shell.vents.ligament_mm");
    assert_eq!(refused(Vents { rim_distance_mm: f32::NAN, ..good }), "shell.vents.rim_distance_mm");
    let wide = flat(200.0, 200.0, 2.5);
    let zone = crate::sample_skins::zone(&wide, |p| inside_box([95.0, 95.0], [p.x, p.z]));
    let net = Vents { size_mm: 20.0, ligament_mm: 1.6, rim_distance_mm: 3.0, ..vents(VentKind::Honeycomb, 20.0, 1.6) };
    let design = Design { vents: Some(net), ..Design::default() };
    let error = place_vents(&wide, &zone, &design, &mut Layout::default(), &Job::silent()).unwrap_err();
    assert!(error.to_string().contains("more than the 60 %"), "{error}");
}
