//! Forearm from the elbow to the heel of the hand. z = 0 at the wrist bone, up to the elbow; x to the thumb side, y to
//! the back of the arm.

use crate::form::{Form, Primitive, v};
use crate::model::{Model, heading, oblong, ring};
use crate::profile::{Station, Tube};
use crate::sizes::Percentiles;

/// Sizes of one forearm, mm.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ForearmSizes {
    pub wrist: f64,
    pub belly: f64,
    pub length: f64,
}

/// Trunk of a forearm; sections between the two measured girths follow the taper of the muscle bellies.
pub(crate) fn trunk(s: ForearmSizes) -> Tube {
    let station = |t: f64, girth: f64, aspect: f64, x: f64, y: f64| Station {
        z: t * s.length,
        circumference: s.wrist + (s.belly * 0.965 - s.wrist) * girth,
        aspect,
        middle: [x, y],
    };
    Tube::new(&[
        station(-0.30, 0.42, 2.05, 2.0, -2.0),
        station(-0.19, 0.30, 1.85, 1.5, -1.0),
        station(-0.10, 0.12, 1.60, 0.5, 0.0),
        station(-0.03, 0.01, 1.45, 0.0, 0.0),
        station(0.05, 0.0, 1.38, 0.0, 0.0),
        station(0.22, 0.13, 1.30, 0.0, 0.5),
        station(0.42, 0.48, 1.18, 0.5, 1.0),
        station(0.62, 0.85, 1.10, 1.0, 2.0),
        station(0.78, 1.0, 1.10, 1.0, 2.0),
        station(0.92, 0.96, 1.16, 0.0, 1.0),
        station(1.05, 0.90, 1.14, -1.0, 0.0),
        station(1.2, 0.88, 1.05, -2.0, -2.0),
    ])
}

/// Adds muscle bellies, tendons, veins and bony points to a forearm's trunk.
pub(crate) fn relief(form: &mut Form, arm: &Tube, length: f64) {
    let path = |points: &[(f64, f64)]| arm.path(&points.iter().map(|(t, a)| (t * length, *a)).collect::<Vec<_>>());
    form.swell(path(&[(1.0, -28.0), (0.8, -22.0), (0.55, -14.0)]), 27.0, 5.5) // brachioradialis
        .swell(path(&[(0.95, -150.0), (0.75, -140.0), (0.45, -125.0)]), 30.0, 5.0) // flexor mass
        .swell(path(&[(0.92, 50.0), (0.7, 60.0), (0.42, 70.0)]), 24.0, 4.0) // extensor mass
        .swell(path(&[(0.9, -75.0), (0.6, -80.0)]), 16.0, -2.0) // hollow between the bellies
        .swell(path(&[(0.95, 118.0), (0.5, 126.0), (0.1, 140.0)]), 7.0, 1.4) // edge of the ulna under the skin
        .swell(path(&[(0.85, 100.0), (0.5, 106.0), (0.25, 112.0)]), 9.0, -1.2)
        .bone_under_skin("head of the ulna", path(&[(0.055, 146.0)]), 13.0, 5.0)
        .bone_under_skin("tip of the radius", path(&[(0.015, 12.0)]), 13.0, 2.4)
        .swell(path(&[(-0.02, 95.0), (0.12, 97.0)]), 9.0, -1.2)
        .swell(path(&[(0.0, -98.0), (0.38, -96.0)]), 4.0, 1.4) // palmaris longus
        .swell(path(&[(0.0, -76.0), (0.4, -80.0)]), 4.5, 1.5) // flexor carpi radialis
        .swell(path(&[(-0.02, -135.0), (0.3, -138.0)]), 5.0, 1.0) // flexor carpi ulnaris
        .swell(path(&[(0.1, 30.0), (0.3, 50.0), (0.45, 20.0), (0.7, 5.0), (0.9, -30.0)]), 3.2, 0.9) // cephalic vein
        .swell(path(&[(0.2, -150.0), (0.45, -165.0), (0.7, -170.0), (0.9, -140.0)]), 3.0, 0.8) // basilic vein
        .swell(path(&[(0.45, 20.0), (0.6, -40.0), (0.9, -60.0)]), 2.8, 0.6);
}

/// A forearm with a pen line around the lower half of its back and thumb side.
pub(crate) fn forearm(wrist: Percentiles, belly: Percentiles, length: Percentiles, share: f64) -> Model {
    let of = |p: Percentiles| p.low + (p.high - p.low) * share;
    let sizes = ForearmSizes { wrist: of(wrist), belly: of(belly), length: of(length) };
    let arm = trunk(sizes);
    let length = sizes.length;
    let mut form = Form::default();
    form.join(Primitive::Tube(arm.clone()), 0.0);
    relief(&mut form, &arm, length);
    form.swell(vec![arm.skin(-0.22 * length, -40.0)], 30.0, 7.0) // ball of the thumb
        .swell(vec![arm.skin(-0.24 * length, -145.0)], 24.0, 4.0) // heel of the hand
        .swell(vec![arm.skin(-0.25 * length, 10.0)], 24.0, 4.0)
        .bone_under_skin("point of the elbow", arm.path(&[(1.02 * length, 95.0), (1.14 * length, 90.0)]), 26.0, 7.0);
    let line = ring(&form, 48, |s| {
        let (along, around) = oblong(s);
        let z = length * (0.36 + 0.30 * along);
        let angle = 82.0 + 74.0 * around + 7.0 * along;
        (arm.middle(z), heading(angle))
    });
    let (low, high) = (-0.22 * length, 1.08 * length);
    Model {
        box_lo: v(-70.0, -70.0, low - 8.0),
        box_hi: v(70.0, 70.0, high + 8.0),
        seen: Box::new(move |p| (p.z - low).min(high - p.z + 0.12 * p.x)),
        line,
        flush: vec![(arm.skin(1.06 * length, 92.0), 28.0), (arm.skin(-0.2 * length, -60.0), 40.0)],
        nails: Vec::new(),
        form,
    }
}
