//! Fittings and marks against closed forms on tubes, and on real limbs where they are at hand.

use std::f32::consts::PI;
use std::path::PathBuf;

use mesh::{Job, Mesh, Surface};
use nalgebra::{Point3, Rotation3, Vector3};
use proptest::prelude::*;
use zone::{Region, Zone};

use super::{place_fittings, place_marks, place_stitch_holes, suggest_mark, suggest_straps};
use crate::sample_skins::{Rough, tube, tube_zone};
use crate::{Chart, Cut, Design, Fitting, FittingKind, Layout, Mark, ShellError, skin_point};

const RADIUS: f32 = 40.0;

fn sample() -> (Surface, Zone) {
    let skin = tube(RADIUS, 140.0, 1.2, Rough::default());
    let zone = tube_zone(&skin, RADIUS, 110.0, 120.0);
    (skin, zone)
}

/// The skin point `s` mm round from +x at height `z`.
fn on_tube(s: f32, z: f32) -> Point3<f32> {
    Point3::new(RADIUS * (s / RADIUS).cos(), RADIUS * (s / RADIUS).sin(), z)
}

fn fitting(kind: FittingKind, at_mm: Point3<f32>, turn_deg: f32) -> Fitting {
    Fitting { kind, at_mm, turn_deg }
}

fn strap(strap_mm: f32, s: f32, z: f32, turn_deg: f32) -> Fitting {
    fitting(FittingKind::StrapSlot { strap_mm, opening_mm: 4.0 }, on_tube(s, z), turn_deg)
}

fn mark(text: &str, height_mm: f32, s: f32, z: f32) -> Mark {
    Mark { text: text.to_owned(), height_mm, relief_mm: 0.8, at_mm: on_tube(s, z), turn_deg: 0.0 }
}

fn arrange_all(skin: &Surface, zone: &Zone, design: &Design) -> Result<Layout, ShellError> {
    let mut layout = Layout::default();
    let job = Job::silent();
    place_fittings(skin, zone, design, &mut layout, &job)?;
    place_marks(skin, zone, design, &mut layout, &job)?;
    place_stitch_holes(skin, zone, design, &mut layout, &job)?;
    Ok(layout)
}

fn with(fittings: Vec<Fitting>) -> Design {
    Design { fittings, ..Design::default() }
}

fn refusal(result: Result<Layout, ShellError>) -> (String, String) {
    match result {
        Err(ShellError::CannotBuild { setting, what, .. }) => (setting, what),
        other => panic!("should be refused: {other:?}"),
    }
}

/// Area on the skin, and how far it goes around and along, counted in the unrolled tube about (s, z).
fn measured(skin: &Surface, cuts: &[Cut], middle: [f32; 2], half: f32) -> (f32, f32, f32) {
    let step = 0.1;
    let count = (half / step) as i32;
    let (mut area, mut around, mut along) = (0.0, 0.0_f32, 0.0_f32);
    for j in -count..count {
        for i in -count..count {
            let (s, z) = ((i as f32 + 0.5) * step, (j as f32 + 0.5) * step);
            let hit = skin_point(skin, &on_tube(middle[0] + s, middle[1] + z)).unwrap();
            let inside =
                cuts.iter().any(|c| c.chart.uv_at(skin, &hit).is_some_and(|p| c.shape.signed_distance(p) < 0.0));
            if inside {
                area += step * step;
                around = around.max(s.abs());
                along = along.max(z.abs());
            }
        }
    }
    (area, 2.0 * around, 2.0 * along)
}

#[test]
fn a_strap_slot_has_its_size_on_the_skin_whichever_way_it_is_turned() {
    let (skin, zone) = sample();
    for (turn, strap_mm) in [(0.0, 25.0), (90.0, 38.0), (90.0, 50.0)] {
        let layout = arrange_all(&skin, &zone, &with(vec![strap(strap_mm, 12.0, -5.0, turn)])).unwrap();
        let (area, around, along) = measured(&skin, &layout.cuts, [12.0, -5.0], 30.0);
        let (long, short) = if turn == 0.0 { (around, along) } else { (along, around) };
        assert!((long - (strap_mm + 2.0)).abs() < 0.25, "length {long} for a {strap_mm} mm strap");
        assert!((short - 4.0).abs() < 0.25, "opening {short}");
        // A box with corners of radius r is (4 − π) r² smaller than one with sharp corners.
        let true_area = (strap_mm + 2.0) * 4.0 - (4.0 - PI) * 4.0;
        assert!((area / true_area - 1.0).abs() < 0.015, "{area} mm², should be {true_area}");
    }
}

#[test]
fn a_slot_in_a_hollow_keeps_its_nominal_opening_in_the_wall() {
    // A tube turned inside out: its normals point to its axis.
    let outside = tube(RADIUS, 140.0, 1.2, Rough::default());
    let mesh = outside.mesh();
    let skin =
        Surface::new(Mesh::new(mesh.points.clone(), mesh.triangles.iter().map(|[a, b, c]| [*a, *c, *b]).collect()));
    let zone = tube_zone(&skin, RADIUS, 110.0, 120.0);
    let design = with(vec![strap(25.0, 0.0, 0.0, 0.0)]);
    let layout = arrange_all(&skin, &zone, &design).unwrap();
    let (_, around, along) = measured(&skin, &layout.cuts, [0.0, 0.0], 25.0);
    // Parallel surfaces: at d mm off the skin, lengths around are 1 − d/R of those on the skin.
    let outer = design.gap_mm + design.thickness_mm;
    let narrowest = around * (1.0 - outer / RADIUS);
    assert!((27.0 - 0.25..27.6).contains(&narrowest), "{narrowest} mm at the outer face");
    assert!((along - 4.0).abs() < 0.25, "flat along the limb: {along}");
}

#[test]
fn straps_too_near_the_rim_are_refused_and_named() {
    let (skin, zone) = sample();
    // The trim line is at s = 55; a slot turned along the limb is 4 wide, so its side stands at s + 2.
    let near = |wall: f32| {
        arrange_all(&skin, &zone, &with(vec![strap(25.0, 0.0, 0.0, 0.0), strap(25.0, 53.0 - wall, 0.0, 90.0)]))
    };
    near(4.2).unwrap();
    let (setting, what) = refusal(near(3.7));
    assert_eq!(setting, "shell.fittings[1].kind.strap-slot.strap_mm");
    assert!(what.contains("3.7 mm of wall") && what.contains("needs 4.0"), "{what}");
    let (setting, what) = refusal(arrange_all(&skin, &zone, &with(vec![strap(25.0, 70.0, 0.0, 90.0)])));
    assert_eq!(setting, "shell.fittings[0].at_mm");
    assert!(what.contains("beyond the zone's edge"), "{what}");
    let (setting, what) = refusal(arrange_all(&skin, &zone, &with(vec![strap(50.0, 0.0, 69.0, 90.0)])));
    assert_eq!(setting, "shell.fittings[0].at_mm");
    assert!(what.contains("beyond the scanned skin"), "{what}");
}

#[test]
fn overlaps_are_refused_even_when_one_hides_in_the_other() {
    let (skin, zone) = sample();
    let seat = FittingKind::HookAndLoopSeat { length_mm: 40.0, width_mm: 30.0, depth_mm: 1.0 };
    let hole = FittingKind::LaceHoles { count: 1, hole_mm: 3.0, pitch_mm: 8.0 };
    let (s, z) = (5.0, 4.0);
    for pair in [[seat.clone(), hole.clone()], [hole, seat]] {
        let fittings = pair.map(|kind| fitting(kind, on_tube(s, z), 0.0)).to_vec();
        let (setting, what) = refusal(arrange_all(&skin, &zone, &with(fittings)));
        assert!(setting.starts_with("shell.fittings[1]"), "{setting}");
        assert!(what.contains("overlaps shell.fittings[0]"), "{what}");
    }
    // Slots 4 wide: 1.5 mm and 1.8 mm of wall between them.
    let apart = |wall: f32| {
        arrange_all(&skin, &zone, &with(vec![strap(25.0, 0.0, 0.0, 0.0), strap(25.0, 0.0, 4.0 + wall, 0.0)]))
    };
    apart(1.8).unwrap();
    assert!(refusal(apart(1.4)).1.contains("1.4 mm of wall to shell.fittings[0]"));
    let mut design = with(vec![strap(25.0, 0.0, 0.0, 0.0)]);
    design.marks = vec![mark("7", 20.0, 0.0, 0.0)];
    assert!(refusal(arrange_all(&skin, &zone, &design)).1.contains("overlaps shell.fittings[0]"));
}

#[test]
fn lace_holes_stand_at_their_pitch_round_the_limb_and_are_round() {
    let (skin, zone) = sample();
    let kind = FittingKind::LaceHoles { count: 6, hole_mm: 4.0, pitch_mm: 15.0 };
    let layout = arrange_all(&skin, &zone, &with(vec![fitting(kind, on_tube(0.0, 3.0), 0.0)])).unwrap();
    assert_eq!(layout.cuts.len(), 6);
    for (i, cut) in layout.cuts.iter().enumerate() {
        let p = cut.chart.centre.point;
        let s = RADIUS * p.y.atan2(p.x);
        assert!((s - (i as f32 - 2.5) * 15.0).abs() < 0.1 && (p.z - 3.0).abs() < 0.1, "hole {i} at {s}, {}", p.z);
        let (area, ..) = measured(&skin, std::slice::from_ref(cut), [s, p.z], 4.0);
        assert!((area / (PI * 4.0) - 1.0).abs() < 0.02, "hole {i} has {area} mm²");
    }
}

#[test]
fn a_tie_slot_leaves_its_bridge() {
    let (skin, zone) = sample();
    let kind = FittingKind::TieSlot { tie_mm: 5.0, bridge_mm: 6.0 };
    let layout = arrange_all(&skin, &zone, &with(vec![fitting(kind, on_tube(0.0, 0.0), 90.0)])).unwrap();
    assert_eq!(layout.cuts.len(), 2);
    // Turned along the limb, the two slots stand side by side around it: openings from 3 to 5.5 mm off the middle.
    for (s, open) in [(0.0, false), (2.8, false), (3.2, true), (5.3, true), (5.7, false)] {
        for side in [-1.0, 1.0] {
            let hit = skin_point(&skin, &on_tube(s * side, 0.0)).unwrap();
            assert_eq!(layout.distance_to_placed(&skin, &hit) < 0.0, open, "at {s}");
        }
    }
}

#[test]
fn seats_are_sunk_and_never_through() {
    let (skin, zone) = sample();
    let seat = |depth_mm| FittingKind::HookAndLoopSeat { length_mm: 40.0, width_mm: 20.0, depth_mm };
    let place = |depth| arrange_all(&skin, &zone, &with(vec![fitting(seat(depth), on_tube(0.0, 0.0), 0.0)]));
    let layout = place(2.2).unwrap();
    assert_eq!((layout.cuts.len(), layout.embosses.len()), (0, 1));
    assert_eq!(layout.embosses[0].height_mm, -2.2);
    let (setting, _) = refusal(place(2.3));
    assert_eq!(setting, "shell.fittings[0].kind.hook-and-loop-seat.depth_mm");
}

#[test]
fn stitch_holes_divide_the_rim_evenly() {
    let (skin, zone) = sample();
    let kind = FittingKind::StitchHoles { hole_mm: 1.5, pitch_mm: 10.0, inset_mm: 5.0 };
    let design = with(vec![fitting(kind.clone(), on_tube(54.0, 0.0), 0.0)]);
    let layout = arrange_all(&skin, &zone, &design).unwrap();
    // Five millimetres inside a 110 × 120 box the line is a box of 100 × 110.
    assert_eq!(layout.cuts.len(), 420 / 10);
    assert!(layout.notices.is_empty());
    for (i, cut) in layout.cuts.iter().enumerate() {
        let distance = skin.interpolate(&zone.covered.distance_mm, &cut.chart.centre);
        assert!((distance - 5.0).abs() < 0.6, "{distance} mm inside");
        let next = &layout.cuts[(i + 1) % layout.cuts.len()].chart.centre.point;
        let step = (cut.chart.centre.point - next).norm();
        assert!((7.0..10.1).contains(&step), "{step} mm to the next");
    }
    // A slot near the rim takes the place of some; the notice says of how many.
    let crowded = with(vec![strap(25.0, 48.5, 0.0, 90.0), fitting(kind, on_tube(54.0, 0.0), 0.0)]);
    let layout = arrange_all(&skin, &zone, &crowded).unwrap();
    let left_out = 42 - (layout.cuts.len() - 1);
    // The slot is 27 long; with 1.6 mm of wall and half a hole at each end 31.7 mm of the line are taken.
    assert!((3..=4).contains(&left_out), "{left_out} left out");
    assert!(layout.notices[0].starts_with(&format!("{left_out} of 42 stitch holes")), "{:?}", layout.notices);
}

#[test]
fn stitch_holes_without_wall_are_refused() {
    let (skin, zone) = sample();
    let kind = FittingKind::StitchHoles { hole_mm: 2.0, pitch_mm: 6.0, inset_mm: 3.0 };
    let (setting, _) = refusal(arrange_all(&skin, &zone, &with(vec![fitting(kind, on_tube(54.0, 0.0), 0.0)])));
    assert_eq!(setting, "shell.fittings[0].kind.stitch-holes.inset_mm");
}

#[test]
fn a_number_has_its_height_on_the_skin() {
    let (skin, zone) = sample();
    let design = Design { marks: vec![mark("17", 25.0, 4.0, -3.0)], ..Design::default() };
    let layout = arrange_all(&skin, &zone, &design).unwrap();
    let emboss = &layout.embosses[0];
    let (mut low, mut high) = (f32::INFINITY, f32::NEG_INFINITY);
    for i in 0..700 {
        for s in -20..20 {
            let z = i as f32 * 0.05 - 17.5;
            let hit = skin_point(&skin, &on_tube(4.0 + s as f32, z - 3.0)).unwrap();
            if emboss.shape.signed_distance(emboss.chart.uv_at(&skin, &hit).unwrap()) < 0.0 {
                (low, high) = (low.min(z), high.max(z));
            }
        }
    }
    assert!((high - low - 25.0).abs() < 0.3, "{} mm high", high - low);
    assert!((high + low).abs() < 0.3, "middle off by {}", 0.5 * (high + low));
}

#[test]
fn marks_that_cannot_be_written_say_why() {
    let (skin, zone) = sample();
    let place = |m: Mark| arrange_all(&skin, &zone, &Design { marks: vec![m], ..Design::default() });
    assert!(refusal(place(mark("漢7", 20.0, 0.0, 0.0))).1.contains("漢 (U+6F22)"));
    assert_eq!(refusal(place(mark("  ", 20.0, 0.0, 0.0))).0, "shell.marks[0].text");
    assert_eq!(refusal(place(mark("17", 80.0, 0.0, 40.0))).0, "shell.marks[0].height_mm");
    assert_eq!(refusal(place(mark("17", f32::NAN, 0.0, 40.0))).0, "shell.marks[0].height_mm");
    let mut sunk = mark("17", 20.0, 0.0, 0.0);
    sunk.relief_mm = -2.5;
    assert_eq!(refusal(place(sunk)).0, "shell.marks[0].relief_mm");
    assert!(refusal(place(mark("17", 4.0, 0.0, 0.0))).1.contains("do not print"));
    let small = place(mark("17", 6.5, 0.0, 0.0)).unwrap();
    assert!(small.notices[0].contains("thin"), "{:?}", small.notices);
    let large = place(mark("17", 20.0, 0.0, 0.0)).unwrap();
    assert!(large.notices.is_empty());
}

/// Everything at once: what the workbench would start with, then the rest by hand.
fn everything(skin: &Surface, zone: &Zone) -> Design {
    let mut design = with(suggest_straps(skin, zone, 25.0, 2));
    design.marks.extend(suggest_mark(skin, zone, &design, "17"));
    design
}

#[test]
fn suggestions_hold_and_the_same_comes_out_twice() {
    let (skin, zone) = sample();
    let mut design = everything(&skin, &zone);
    assert_eq!(design.fittings.len(), 4);
    for pair in design.fittings.chunks(2) {
        let side = |f: &Fitting| RADIUS * f.at_mm.y.atan2(f.at_mm.x);
        // Left and right of the zone, 4 mm wall and half an opening inside its edges at s = ±55.
        assert!((-49.5..-45.0).contains(&side(&pair[0])), "{}", side(&pair[0]));
        assert!((45.0..49.5).contains(&side(&pair[1])), "{}", side(&pair[1]));
        assert!((pair[0].at_mm.z - pair[1].at_mm.z).abs() < 4.0);
    }
    assert_eq!(design.marks[0].height_mm, 30.0);
    let stitches = FittingKind::StitchHoles { hole_mm: 1.5, pitch_mm: 6.0, inset_mm: 4.0 };
    design.fittings.push(fitting(
        FittingKind::LaceHoles { count: 3, hole_mm: 4.0, pitch_mm: 10.0 },
        on_tube(0.0, 50.0),
        0.0,
    ));
    design.fittings.push(fitting(FittingKind::TieSlot { tie_mm: 5.0, bridge_mm: 5.0 }, on_tube(0.0, -50.0), 0.0));
    design.fittings.push(fitting(stitches, on_tube(54.0, 0.0), 0.0));
    let first = arrange_all(&skin, &zone, &design).unwrap();
    assert_eq!(
        first.cuts.len() - first.cuts.iter().filter(|c| c.source == crate::Source::Fitting(6)).count(),
        4 + 3 + 2
    );
    assert!(first == arrange_all(&skin, &zone, &everything_again(&skin, &zone, &design)).unwrap());
    // No two openings come closer than the ligament: each outline against all others.
    for (i, cut) in first.cuts.iter().enumerate() {
        let mut rest = first.clone();
        rest.cuts.remove(i);
        for uv in cut.shape.outline(1.0) {
            let hit = cut.chart.skin_point(&skin, uv).unwrap();
            let distance = rest.distance_to_placed(&skin, &hit);
            assert!(distance > super::MIN_LIGAMENT_MM - 0.1, "cut {i} comes within {distance} mm");
        }
    }
}

fn everything_again(skin: &Surface, zone: &Zone, design: &Design) -> Design {
    let mut again = everything(skin, zone);
    again.fittings.extend(design.fittings[again.fittings.len()..].iter().cloned());
    again
}

fn data() -> Option<PathBuf> {
    let beside = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data");
    let folder = std::env::var_os("PAULDRON_DATA").map_or(beside, PathBuf::from);
    folder.is_dir().then_some(folder)
}

#[test]
fn straps_and_a_number_find_room_on_real_limbs() {
    let Some(data) = data() else {
        println!("not run: no folder with real limbs (set PAULDRON_DATA)");
        return;
    };
    for (name, radius, pairs) in [
        ("forearm_L_smpl_man_mm.stl", 70.0, 2),
        ("forearm_L_smpl_woman_mm.stl", 60.0, 2),
        ("shin_L_smpl_man_mm.stl", 70.0, 2),
        ("thigh_L_smpl_woman_mm.stl", 70.0, 2),
        ("ribside_L_smpl_woman_mm.stl", 45.0, 1),
        ("shoulder_L_smpl_woman_mm.stl", 60.0, 1),
        ("handforearm_L_smpl_woman_mm.stl", 50.0, 1),
    ] {
        let start = std::time::Instant::now();
        let file = mesh::read::read_file(&data.join("limbs").join(name), &Job::silent()).unwrap();
        let skin = stood_up(file.mesh);
        // A round zone about the spot at half height that is furthest out to +x, clear of where the scan ends;
        // distances by its chart.
        let points = &skin.mesh().points;
        let ends: Vec<u32> = skin.adjacency().boundary_loops(skin.mesh()).concat();
        let clear = |p: &Point3<f32>| ends.iter().all(|e| (points[*e as usize] - p).norm() > radius + 4.0);
        let level = points.iter().filter(|p| p.z.abs() < 30.0 && clear(p));
        let front = level.max_by(|a, b| a.x.total_cmp(&b.x)).unwrap_or_else(|| panic!("{name} is too small"));
        let at = skin_point(&skin, front).unwrap();
        let chart = Chart::new(&skin, &at, 0.0, radius + 5.0);
        let mut distance_mm = vec![-10.0; points.len()];
        for (v, [x, y]) in &chart.vertices {
            distance_mm[*v as usize] = radius - x.hypot(*y);
        }
        let zone = Zone { covered: Region { distance_mm, edges: Vec::new() }, ..Zone::default() };
        let read = start.elapsed();
        let mut design = with(suggest_straps(&skin, &zone, 25.0, pairs));
        design.marks.extend(suggest_mark(&skin, &zone, &design, "17"));
        let suggested = start.elapsed();
        let height = design.marks.first().map(|m| m.height_mm);
        let stitches = FittingKind::StitchHoles { hole_mm: 1.5, pitch_mm: 7.0, inset_mm: 4.0 };
        design.fittings.push(fitting(stitches, at.point, 0.0));
        let layout = arrange_all(&skin, &zone, &design).unwrap_or_else(|e| panic!("{name}: {e}"));
        println!(
            "{name}: {} slots, number {height:?} mm high, {} cuts, {:?}; suggesting {:?}, placing {:?}",
            design.fittings.len() - 1,
            layout.cuts.len(),
            layout.notices,
            suggested - read,
            start.elapsed() - suggested,
        );
        assert_eq!(design.fittings.len() - 1, 2 * pairs, "{name}");
        assert!(height >= Some(12.0), "{name}: {height:?}");
        assert!(layout.cuts.len() > 25, "{name}");
    }
}

/// The scan turned so that its longest side runs along z, and middled.
fn stood_up(mut mesh: Mesh) -> Surface {
    let (lo, hi) = mesh.bounds().unwrap();
    let long = (hi - lo).imax();
    let turn = match long {
        0 => Rotation3::from_axis_angle(&Vector3::y_axis(), -0.5 * PI),
        1 => Rotation3::from_axis_angle(&Vector3::x_axis(), 0.5 * PI),
        _ => Rotation3::identity(),
    };
    let centre = nalgebra::center(&lo, &hi);
    mesh.points.iter_mut().for_each(|p| *p = turn * Point3::from(*p - centre));
    Surface::new(mesh)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Whatever is asked for, the answer is a layout or a sentence.
    #[test]
    fn no_request_panics(
        kind in 0_usize..5, a in prop_oneof![Just(f32::NAN), Just(0.0_f32), -5.0_f32..60.0], b in 0.0_f32..20.0,
        c in 0.0_f32..8.0, s in -130.0_f32..130.0, z in -90.0_f32..90.0, off in -30.0_f32..30.0,
        turn in -200.0_f32..200.0, text in "[0-9A-Zäß漢 ]{0,5}",
    ) {
        let skin = tube(RADIUS, 140.0, 2.5, Rough { uneven: 0.3, noise_mm: 0.05 });
        let zone = tube_zone(&skin, RADIUS, 110.0, 120.0);
        let kind = match kind {
            0 => FittingKind::StrapSlot { strap_mm: a, opening_mm: b },
            1 => FittingKind::LaceHoles { count: b as u32, hole_mm: c, pitch_mm: a },
            2 => FittingKind::TieSlot { tie_mm: b, bridge_mm: c },
            3 => FittingKind::StitchHoles { hole_mm: c * 0.5, pitch_mm: a, inset_mm: b },
            _ => FittingKind::HookAndLoopSeat { length_mm: a, width_mm: b * 3.0, depth_mm: c },
        };
        let place = on_tube(s, z) * (1.0 + off / RADIUS);
        let mark = Mark { text, height_mm: a, relief_mm: c - 2.0, at_mm: on_tube(z, s), turn_deg: turn };
        let alone = with(vec![fitting(kind, place, turn)]);
        let _ = arrange_all(&skin, &zone, &alone);
        let written = Design { marks: vec![mark], ..Design::default() };
        if let Ok(layout) = arrange_all(&skin, &zone, &written) {
            let relief = written.marks[0].relief_mm;
            prop_assert!(layout.embosses.iter().all(|e| e.height_mm == relief && relief.abs() >= 0.2));
        }
    }
}
