//! What a refusal offers: sizes and places by closed forms on a tube whose zone reaches to s = ±55 and z = ±60.

use super::*;

/// What is wrong, and the way out.
fn told(design: &Design) -> (String, String) {
    let (skin, zone) = sample();
    match arrange_all(&skin, &zone, design) {
        Err(ShellError::CannotBuild { what, cure, .. }) => (what, cure),
        other => panic!("should be refused: {other:?}"),
    }
}

/// The number after some words.
fn number_after(text: &str, words: &str) -> f32 {
    let rest = text.split_once(words).unwrap_or_else(|| panic!("no {words} in {text}")).1;
    rest.split([' ', ',']).next().unwrap().parse().unwrap()
}

/// A slot along the limb at height z is `strap + 2` long and stays 4 mm inside: z + (strap + 2) / 2 ≤ 56.
#[test]
fn a_strap_near_the_end_of_the_zone_is_told_the_widest_that_fits_and_how_far_to_move() {
    let (what, cure) = told(&with(vec![strap(50.0, 0.0, 38.3, 90.0)]));
    // The end of the slot lies at 38.3 + 26 = 64.3.
    assert!(what.contains("the slot for a 50 mm strap (fitting 1) reaches 4.3 mm beyond the zone's edge"), "{what}");
    // (56 − 38.3) · 2 − 2 = 33.4; 64.3 − 56 = 8.3, and 9 is the next distance that is tried.
    assert!(cure.starts_with("Straps up to 33 mm have room at this place; as it is, it has room 9 mm away"), "{cure}");
    // Straight down the tube.
    assert!((number_after(&cure, "z ") - 29.3).abs() < 0.15, "{cure}");
}

#[test]
fn a_width_below_the_usual_ones_is_said_to_be_unusual() {
    let (_, cure) = told(&with(vec![strap(25.0, 0.0, 45.3, 90.0)]));
    // (56 − 45.3) · 2 − 2 = 19.4.
    assert!(cure.starts_with("Straps up to 19 mm (usual ones are 25 to 50 mm) have room at this place"), "{cure}");
    assert!(cure.contains("3 mm away"), "{cure}");
}

/// Round the tube the zone leaves (55 − 4) · 2 = 102 mm for a slot in its middle.
#[test]
fn a_zone_too_narrow_for_a_strap_is_named_as_the_cause() {
    let (what, cure) = told(&with(vec![strap(110.0, 0.3, 0.0, 0.0)]));
    assert!(what.starts_with("the zone is too narrow for the slot for a 110 mm strap (fitting 1)"), "{what}");
    // (51 − 0.3) · 2 − 2 = 99.4.
    assert_eq!(number_after(&cure, "Straps up to "), 99.0, "{cure}");
    assert!(cure.ends_with("as it is, move it further or turn it."), "{cure}");
}

/// The rounding of the rim asks for more room than the design had when its holes were set.
#[test]
fn the_rounding_of_the_rim_is_named_where_it_takes_the_room() {
    let hole = FittingKind::LaceHoles { count: 1, hole_mm: 4.0, pitch_mm: 8.0 };
    // The hole's side stands 2.4 mm inside: 1.6 and a rounding of 0.8 have room, one of 1.2 has none.
    let round = |round_mm: f32| {
        let rim = crate::Rim { round_mm, ..crate::Rim::default() };
        Design { rim, ..with(vec![fitting(hole.clone(), on_tube(0.0, 55.6), 0.0)]) }
    };
    let (skin, zone) = sample();
    arrange_all(&skin, &zone, &round(0.7)).unwrap();
    let (what, cure) = told(&round(1.2));
    assert!(what.contains("needs 2.8 mm (1.6 and the rounding of the rim, rim.round_mm)"), "{what}");
    assert!(cure.starts_with("It has room 1 mm away"), "{cure}");
}

/// What is offered holds: the offered size is placed, the next one is not, and the offered place is taken.
#[test]
fn offers_hold_for_seats_holes_ties_and_marks() {
    let (skin, zone) = sample();
    let placed = |design: &Design| arrange_all(&skin, &zone, design).is_ok();
    let blocked = |kind: FittingKind| with(vec![strap(25.0, 0.0, 20.0, 0.0), fitting(kind, on_tube(2.0, 1.0), 90.0)]);
    let seat = |mm: f32| blocked(FittingKind::HookAndLoopSeat { length_mm: mm, width_mm: 20.0, depth_mm: 1.0 });
    let most = number_after(&told(&seat(40.0)).1, "Seats up to ");
    assert!(placed(&seat(most)) && !placed(&seat(most + 1.0)), "{most}");
    let holes = |n: f32| blocked(FittingKind::LaceHoles { count: n as u32, hole_mm: 4.0, pitch_mm: 8.0 });
    let most = number_after(&told(&holes(9.0)).1, "Rows of up to ");
    assert!(placed(&holes(most)) && !placed(&holes(most + 1.0)), "{most}");
    let tie = |mm: f32| blocked(FittingKind::TieSlot { tie_mm: mm, bridge_mm: 5.0 });
    let (_, cure) = told(&tie(30.0));
    // It ends where the strap's slot begins with 1.6 mm between: 20 − 2 − 1.6 − 1 = 15.4 from its middle.
    if !placed(&tie(29.0)) {
        let most = number_after(&cure, "Ties up to ");
        assert!(placed(&tie(most)) && !placed(&tie(most + 1.0)), "{most}");
    }
    let number = |mm: f32| {
        let mut design = with(vec![strap(25.0, 0.0, 20.0, 0.0)]);
        design.marks = vec![mark("17", mm, 0.0, 0.0)];
        design
    };
    let (what, cure) = told(&number(50.0));
    assert!(what.contains("the mark “17” overlaps the slot for a 25 mm strap (fitting 1)"), "{what}");
    let most = number_after(&cure, "Letters up to ");
    assert!(placed(&number(most)) && !placed(&number(most + 1.0)), "{most}");
    let (_, cure) = told(&with(vec![strap(38.0, 10.0, 40.0, 90.0)]));
    let at = Point3::new(number_after(&cure, "x "), number_after(&cure, "y "), number_after(&cure, "z "));
    let kind = FittingKind::StrapSlot { strap_mm: 38.0, opening_mm: 4.0 };
    assert!(placed(&with(vec![fitting(kind, at, 90.0)])), "{cure}");
}
