//! Suggested straps and numbers.

use super::*;

/// The suggested straps and number.
fn everything(skin: &Surface, zone: &Zone) -> Design {
    let mut design = with(suggest_straps(skin, zone, &Design::default(), 25.0, 2, &Job::silent()).unwrap());
    design.marks.extend(suggest_mark(skin, zone, &design, "17", &Job::silent()).unwrap());
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
    // The largest that is suggested.
    assert_eq!(design.marks[0].height_mm, 26.0);
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
        first.openings.len() - first.openings.iter().filter(|c| c.item == crate::DesignItem::Fitting(6)).count(),
        4 + 3 + 2
    );
    assert!(first == arrange_all(&skin, &zone, &everything_again(&skin, &zone, &design)).unwrap());
    // No two openings come closer than the ligament: each outline against all others.
    for (i, opening) in first.openings.iter().enumerate() {
        let mut rest = first.clone();
        rest.openings.remove(i);
        for uv in opening.shape.outline(1.0) {
            let hit = opening.chart.skin_point(&skin, uv).unwrap();
            let distance = rest.nearest_placed(&skin, &hit).map_or(f32::INFINITY, |(distance, _)| distance);
            assert!(distance > crate::limits::MIN_LIGAMENT_MM - 0.1, "opening {i} comes within {distance} mm");
        }
    }
}

fn everything_again(skin: &Surface, zone: &Zone, design: &Design) -> Design {
    let mut again = everything(skin, zone);
    again.fittings.extend(design.fittings[again.fittings.len()..].iter().cloned());
    again
}
