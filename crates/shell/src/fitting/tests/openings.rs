//! Slots, holes and seats: sizes, walls and refusals.

use super::*;

#[test]
fn a_strap_slot_has_its_size_on_the_skin_whichever_way_it_is_turned() {
    let (skin, zone) = sample();
    for (turn, strap_mm) in [(0.0, 25.0), (90.0, 38.0), (90.0, 50.0)] {
        let layout = arrange_all(&skin, &zone, &with(vec![strap(strap_mm, 12.0, -5.0, turn)])).unwrap();
        let (area, around, along) = measured(&skin, &layout.openings, [12.0, -5.0], 30.0);
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
    let field = Field::new(&skin, &zone, &design, &layout, &Finish::default(), &Job::silent()).unwrap();
    // In the middle of the wall, at places by their way round and along from the middle of the slot.
    let radius = RADIUS - design.gap_mm - 0.5 * design.thickness_mm;
    let is_open = |around: f32, along: f32| {
        let (sin, cos) = (around / radius).sin_cos();
        field.value(&Point3::new(radius * cos, radius * sin, along), None).0 > 0.0
    };
    for (around, along, open) in [(13.1, 0.0, true), (14.1, 0.0, false), (0.0, 1.6, true), (0.0, 2.5, false)] {
        assert_eq!([is_open(around, along), is_open(-around, -along)], [open; 2], "at {around}, {along}");
    }
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
    assert_eq!(setting, "shell.fittings[1]", "it may be the place, the turn or the size");
    assert!(what.contains("(fitting 2) is 3.7 mm from the zone's edge and needs 4.0 mm"), "{what}");
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
        assert!(what.contains("overlaps the ") && what.ends_with("(fitting 1)"), "{what}");
    }
    // Slots 4 wide: 1.5 mm and 1.8 mm of wall between them.
    let apart = |wall: f32| {
        arrange_all(&skin, &zone, &with(vec![strap(25.0, 0.0, 0.0, 0.0), strap(25.0, 0.0, 4.0 + wall, 0.0)]))
    };
    apart(1.8).unwrap();
    assert!(refusal(apart(1.4)).1.contains("1.4 mm from the slot for a 25 mm strap (fitting 1) and needs 1.6"));
    let mut design = with(vec![strap(25.0, 0.0, 0.0, 0.0)]);
    design.marks = vec![mark("7", 20.0, 0.0, 0.0)];
    assert!(refusal(arrange_all(&skin, &zone, &design)).1.contains("overlaps the slot for a 25 mm strap (fitting 1)"));
}

#[test]
fn lace_holes_stand_at_their_pitch_round_the_limb_and_are_round() {
    let (skin, zone) = sample();
    let kind = FittingKind::LaceHoles { count: 6, hole_mm: 4.0, pitch_mm: 15.0 };
    let layout = arrange_all(&skin, &zone, &with(vec![fitting(kind, on_tube(0.0, 3.0), 0.0)])).unwrap();
    assert_eq!(layout.openings.len(), 6);
    for (i, opening) in layout.openings.iter().enumerate() {
        let p = opening.chart.centre.point;
        let s = RADIUS * p.y.atan2(p.x);
        assert!((s - (i as f32 - 2.5) * 15.0).abs() < 0.1 && (p.z - 3.0).abs() < 0.1, "hole {i} at {s}, {}", p.z);
        let (area, ..) = measured(&skin, std::slice::from_ref(opening), [s, p.z], 4.0);
        assert!((area / (PI * 4.0) - 1.0).abs() < 0.02, "hole {i} has {area} mm²");
    }
}

#[test]
fn a_tie_slot_leaves_its_bridge() {
    let (skin, zone) = sample();
    let kind = FittingKind::TieSlot { tie_mm: 5.0, bridge_mm: 6.0 };
    let layout = arrange_all(&skin, &zone, &with(vec![fitting(kind, on_tube(0.0, 0.0), 90.0)])).unwrap();
    assert_eq!(layout.openings.len(), 2);
    // Turned along the limb, the two slots stand side by side around it: openings from 3 to 5.5 mm off the middle.
    for (s, open) in [(0.0, false), (2.8, false), (3.2, true), (5.3, true), (5.7, false)] {
        for side in [-1.0, 1.0] {
            let hit = skin_point(&skin, &on_tube(s * side, 0.0)).unwrap();
            assert_eq!(
                layout.nearest_placed(&skin, &hit).map_or(f32::INFINITY, |(distance, _)| distance) < 0.0,
                open,
                "at {s}"
            );
        }
    }
}

#[test]
fn seats_are_sunk_and_never_through() {
    let (skin, zone) = sample();
    let seat = |depth_mm| FittingKind::HookAndLoopSeat { length_mm: 40.0, width_mm: 20.0, depth_mm };
    let place = |depth| arrange_all(&skin, &zone, &with(vec![fitting(seat(depth), on_tube(0.0, 0.0), 0.0)]));
    let layout = place(2.2).unwrap();
    assert_eq!((layout.openings.len(), layout.embosses.len()), (0, 1));
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
    assert_eq!(layout.openings.len(), 420 / 10);
    assert!(layout.notices.is_empty());
    for (i, opening) in layout.openings.iter().enumerate() {
        let distance = skin.interpolate(&zone.covered.distance_mm, &opening.chart.centre);
        assert!((distance - 5.0).abs() < 0.6, "{distance} mm inside");
        let next = &layout.openings[(i + 1) % layout.openings.len()].chart.centre.point;
        let step = (opening.chart.centre.point - next).norm();
        assert!((7.0..10.1).contains(&step), "{step} mm to the next");
    }
    // A slot near the rim takes the place of some; the notice says of how many.
    let crowded = with(vec![strap(25.0, 48.5, 0.0, 90.0), fitting(kind, on_tube(54.0, 0.0), 0.0)]);
    let layout = arrange_all(&skin, &zone, &crowded).unwrap();
    let left_out = 42 - (layout.openings.len() - 1);
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
