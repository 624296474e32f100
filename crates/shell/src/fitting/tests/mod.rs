//! Fittings and marks against closed forms on tubes, and on real limbs where they are at hand.

mod marks;
mod openings;
mod real_limbs;
mod suggestions;
mod ways_out;

use std::f32::consts::PI;

use mesh::{Job, Mesh, Surface};
use nalgebra::{Point3, Vector3};
use proptest::prelude::*;
use zone::{Region, Zone};

use super::{place_fittings, place_marks, place_stitch_holes, suggest_mark, suggest_straps};
use crate::sample_skins::{Rough, tube, tube_zone};
use crate::{
    Chart, Design, Field, Finish, Fitting, FittingKind, Layout, Mark, MarkKind, Opening, ShellError, skin_point,
};

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
    Fitting { kind, at_mm, turn_deg, follows: false }
}

fn strap(strap_mm: f32, s: f32, z: f32, turn_deg: f32) -> Fitting {
    fitting(FittingKind::StrapSlot { strap_mm, opening_mm: 4.0 }, on_tube(s, z), turn_deg)
}

fn mark(text: &str, height_mm: f32, s: f32, z: f32) -> Mark {
    Mark {
        text: text.to_owned(),
        height_mm,
        relief_mm: 0.8,
        at_mm: on_tube(s, z),
        turn_deg: 0.0,
        kind: MarkKind::Relief,
    }
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
fn measured(skin: &Surface, openings: &[Opening], middle: [f32; 2], half: f32) -> (f32, f32, f32) {
    let step = 0.1;
    let count = (half / step) as i32;
    let (mut area, mut around, mut along) = (0.0, 0.0_f32, 0.0_f32);
    for j in -count..count {
        for i in -count..count {
            let (s, z) = ((i as f32 + 0.5) * step, (j as f32 + 0.5) * step);
            let hit = skin_point(skin, &on_tube(middle[0] + s, middle[1] + z)).unwrap();
            let inside =
                openings.iter().any(|c| c.chart.uv_at(skin, &hit).is_some_and(|p| c.shape.signed_distance(p) < 0.0));
            if inside {
                area += step * step;
                around = around.max(s.abs());
                along = along.max(z.abs());
            }
        }
    }
    (area, 2.0 * around, 2.0 * along)
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
        let mark = Mark { text, height_mm: a, relief_mm: c - 2.0, at_mm: on_tube(z, s), turn_deg: turn, kind: MarkKind::Relief };
        let alone = with(vec![fitting(kind, place, turn)]);
        let _ = arrange_all(&skin, &zone, &alone);
        let written = Design { marks: vec![mark], ..Design::default() };
        if let Ok(layout) = arrange_all(&skin, &zone, &written) {
            let relief = written.marks[0].relief_mm;
            prop_assert!(layout.embosses.iter().all(|e| e.height_mm == relief && relief.abs() >= 0.2));
        }
    }
}
