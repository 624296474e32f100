//! Hand with spread fingers and thumb, and the lower forearm. z = 0 at the wrist, up to the finger tips; x to the thumb
//! side, y to the back of the hand.

use crate::form::{Form, Primitive, V, v};
use crate::limbs::forearm::{ForearmSizes, relief, trunk};
use crate::model::Model;
use crate::sizes::{
    FOREARM_CIRCUMFERENCE, FOREARM_LENGTH, HAND_BREADTH, HAND_LENGTH, PALM_LENGTH, WRIST_CIRCUMFERENCE,
};

/// One finger: x and z of the knuckle as shares of hand breadth and palm length, the spread, the three phalanges as
/// shares of finger length, and the thickness as a share of hand breadth.
struct Finger {
    knuckle: (f64, f64),
    spread_deg: f64,
    phalanges: [f64; 3],
    girth: f64,
}

const FINGERS: [Finger; 4] = [
    Finger { knuckle: (0.355, 0.83), spread_deg: 10.0, phalanges: [0.62, 0.35, 0.24], girth: 0.116 },
    Finger { knuckle: (0.115, 0.87), spread_deg: 2.0, phalanges: [0.68, 0.41, 0.25], girth: 0.118 },
    Finger { knuckle: (-0.125, 0.83), spread_deg: -6.0, phalanges: [0.63, 0.38, 0.25], girth: 0.112 },
    Finger { knuckle: (-0.345, 0.755), spread_deg: -16.0, phalanges: [0.50, 0.28, 0.23], girth: 0.100 },
];

fn bent(spread_deg: f64, bend_deg: f64) -> V {
    let (side, up) = libm::sincos(spread_deg.to_radians());
    let (bend, straight) = libm::sincos(bend_deg.to_radians());
    v(side * straight, -bend, up * straight)
}

/// A hand with a pen line around the base of the thumb and over the thumb side of the wrist.
pub(crate) fn wrist() -> Model {
    // Wrist 154, hand 180 × 78 (palm 108), all medians of ANSUR II women.
    let sizes =
        ForearmSizes { wrist: WRIST_CIRCUMFERENCE.mid, belly: FOREARM_CIRCUMFERENCE.mid, length: FOREARM_LENGTH.mid };
    let (breadth, palm) = (HAND_BREADTH.mid, PALM_LENGTH.mid);
    let mut form = Form::default();
    let mut forearm = Form::default();
    let arm = trunk(sizes);
    forearm.join(Primitive::Tube(arm.clone()), 0.0);
    relief(&mut forearm, &arm, sizes.length);
    // The forearm's z points to the elbow, the hand's to the finger tips.
    forearm.carve(Primitive::Below(-26.0), 16.0);
    form.join(Primitive::Flipped(forearm), 0.0);

    let mut flush = Vec::new();
    let mut nails = Vec::new();
    for f in &FINGERS {
        let x = f.knuckle.0 * breadth;
        let knuckle = v(x, 2.0, f.knuckle.1 * palm);
        form.bones(&[(v(x * 0.42, 1.0, 12.0), 15.5), (knuckle - v(0.0, 2.5, 0.0), 11.8)], 9.0);
    }
    form.join(Primitive::Ellipsoid { centre: v(0.0, -2.0, 50.0), radii: v(33.0, 13.0, 46.0) }, 8.0);
    for f in &FINGERS {
        nails.push(finger(&mut form, &mut flush, f));
    }
    let thumb_nail = thumb(&mut form, &mut flush);
    nails.push(thumb_nail);
    form.bones(&[(v(-21.0, -6.0, 16.0), 12.5), (v(-27.0, -5.0, 62.0), 10.5)], 10.0); // outer edge of the palm
    form.swell(vec![v(0.0, -14.0, 48.0), v(2.0, -14.0, 64.0)], 22.0, -3.5); // hollow of the palm

    let rough = [
        v(2.0, 20.0, -44.0),
        v(2.0, 19.0, -20.0),
        v(6.0, 17.0, 8.0),
        v(15.0, 15.0, 30.0),
        v(28.0, 10.0, 52.0),
        v(39.0, 2.0, 60.0),
        v(50.0, -4.0, 66.0),
        v(60.0, -8.0, 76.0),
        v(69.0, -14.0, 78.0),
        v(68.0, -26.0, 72.0),
        v(58.0, -28.0, 56.0),
        v(48.0, -28.0, 40.0),
        v(38.0, -24.0, 22.0),
        v(28.0, -18.0, 4.0),
        v(24.0, -16.0, -18.0),
        v(24.0, -14.0, -42.0),
        v(26.0, 0.0, -52.0),
        v(16.0, 16.0, -52.0),
    ];
    let line = rough.iter().map(|p| form.project(p, 12)).collect();
    let low = -105.0;
    Model {
        form,
        box_lo: v(-80.0, -75.0, low - 8.0),
        box_hi: v(100.0, 45.0, 200.0),
        seen: Box::new(move |p| p.z - low + 0.1 * p.x),
        line,
        flush,
        nails,
    }
}

/// Joins a finger to the hand; returns its nail.
fn finger(form: &mut Form, flush: &mut Vec<(V, f64)>, f: &Finger) -> (V, V, f64) {
    let (breadth, palm) = (HAND_BREADTH.mid, PALM_LENGTH.mid);
    let knuckle = v(f.knuckle.0 * breadth, 0.5, f.knuckle.1 * palm);
    // The phalanges start at the knuckle, behind the web, and end a tip radius short.
    let reach = (HAND_LENGTH.mid - palm) * 0.87;
    let thick = f.girth * breadth;
    let mut finger = Form::default();
    let pip = knuckle + bent(f.spread_deg, 7.0) * (f.phalanges[0] * reach);
    let dip = pip + bent(f.spread_deg, 21.0) * (f.phalanges[1] * reach);
    let tip = dip + bent(f.spread_deg, 29.0) * (f.phalanges[2] * reach);
    finger.bones(
        &[
            (knuckle, thick * 1.1),
            (knuckle * 0.5 + pip * 0.5, thick * 0.97),
            (pip, thick * 0.98),
            (pip * 0.5 + dip * 0.5, thick * 0.89),
            (dip, thick * 0.87),
            (tip, thick * 0.74),
        ],
        0.8,
    );
    let back = bent(f.spread_deg, 21.0).cross(&v(1.0, 0.0, 0.0)).normalize();
    finger.swell(vec![pip + back * thick], 7.0, 0.8);
    form.join(Primitive::Group(finger), 4.0);
    form.bone_under_skin("knuckle", vec![knuckle + v(0.0, 12.0, -3.0)], 10.0, 2.2);
    form.swell(vec![v(knuckle.x * 0.35, 14.5, 22.0), knuckle + v(0.0, 11.0, -10.0)], 3.4, 0.9);
    flush.push((pip + back * thick, 9.0));
    flush.push((knuckle + v(0.0, 12.0, -2.0), 11.0));
    flush.push((tip, 8.0));
    (tip + bent(f.spread_deg, 29.0) * 1.5 + back * (thick * 0.72), back, thick * 0.52)
}

fn thumb(form: &mut Form, flush: &mut Vec<(V, f64)>) -> (V, V, f64) {
    let (base, knuckle, joint, tip) =
        (v(20.0, -7.0, 16.0), v(46.0, -15.0, 50.0), v(61.0, -18.0, 77.0), v(70.0, -21.0, 97.0));
    let mut thumb = Form::default();
    thumb.bones(
        &[
            (base, 13.5),
            (knuckle, 11.0),
            (knuckle * 0.5 + joint * 0.5, 9.7),
            (joint, 9.9),
            (joint * 0.4 + tip * 0.6, 9.3),
            (tip, 7.6),
        ],
        1.2,
    );
    form.join(Primitive::Ellipsoid { centre: v(25.0, -12.0, 34.0), radii: v(17.0, 14.0, 27.0) }, 10.0);
    // The web between thumb and palm.
    form.bones(&[(v(30.0, -7.0, 46.0), 7.5), (v(27.0, -4.0, 68.0), 5.5)], 14.0);
    form.join(Primitive::Group(thumb), 11.0);
    let back = v(0.55, 0.78, -0.3).normalize();
    form.bone_under_skin("knuckle of the thumb", vec![knuckle + back * 10.5], 9.0, 1.6);
    flush.extend([(knuckle + back * 11.0, 10.0), (joint + back * 9.0, 9.0), (tip, 9.0)]);
    let along = (tip - joint).normalize();
    let nail_side = (back - along * back.dot(&along)).normalize();
    (tip + along * 0.5 + nail_side * 7.2, nail_side, 5.6)
}
