//! Foot and ankle. z = 0 at the sole, y from the heel to the toes, x outward.

use crate::form::{Form, Primitive, V, v};
use crate::model::{Model, ring};
use crate::sizes::{
    ANKLE_CIRCUMFERENCE, BIMALLEOLAR_BREADTH, FOOT_BREADTH, FOOT_LENGTH, HEEL_BREADTH, LATERAL_MALLEOLUS_HEIGHT,
};

/// Knuckle, bend and tip of each toe from the big one outward: x, y, z and radius; y as a share of foot length, the
/// rest mm.
const TOES: [[(f64, f64, f64, f64); 3]; 5] = [
    [(-27.0, 0.735, 17.0, 15.0), (-27.0, 0.865, 14.5, 12.0), (-24.0, 0.948, 12.0, 11.0)],
    [(-7.5, 0.770, 17.0, 10.0), (-4.5, 0.890, 17.0, 8.2), (-2.5, 0.950, 9.5, 7.6)],
    [(6.5, 0.755, 15.5, 9.5), (10.5, 0.860, 15.5, 7.8), (12.5, 0.916, 8.8, 7.2)],
    [(19.0, 0.725, 14.5, 9.0), (24.0, 0.818, 14.0, 7.5), (26.0, 0.868, 8.4, 7.0)],
    [(31.0, 0.690, 13.0, 9.0), (36.5, 0.768, 12.0, 7.6), (38.5, 0.812, 8.2, 7.0)],
];

/// A foot with a pen line around the outer ankle bone.
pub(crate) fn ankle() -> Model {
    // Medians of ANSUR II women: foot 246 × 93, heel 67, ankle girth 215, ankle bones 67 apart, the outer one 63 up.
    let heel = HEEL_BREADTH.mid / 2.0;
    let (bone_up, bone_out) = (LATERAL_MALLEOLUS_HEIGHT.mid, BIMALLEOLAR_BREADTH.mid / 2.0);
    let half = FOOT_BREADTH.mid / 2.0;
    let leg = ANKLE_CIRCUMFERENCE.mid / std::f64::consts::TAU;
    let mut form = Form::default();
    form.join(Primitive::Ellipsoid { centre: v(0.0, 35.0, 31.0), radii: v(heel - 1.0, 35.0, 33.0) }, 0.0)
        .bones(&[(v(5.0, 45.0, 28.0), 27.0), (v(17.0, 115.0, 22.0), 21.0), (v(half - 13.0, 172.0, 14.0), 13.0)], 16.0) // outer edge
        .bones(&[(v(-4.0, 66.0, 60.0), 29.0), (v(-14.0, 112.0, 48.0), 23.0), (v(17.0 - half, 180.0, 19.0), 16.5)], 18.0) // inner edge
        .bones(&[(v(2.0, 100.0, 44.0), 24.0), (v(4.0, 182.0, 17.0), 15.0)], 16.0)
        .bones(
            &[(v(0.0, 54.0, 58.0), 31.5), (v(-1.0, 55.0, 108.0), leg - 2.0), (v(-2.0, 56.0, 215.0), leg + 9.0)],
            16.0,
        ) // leg
        .bones(&[(v(0.0, 13.0, 44.0), 11.0), (v(0.0, 20.5, 90.0), 8.0), (v(0.0, 21.0, 150.0), 11.0)], 14.0); // heel tendon
    let mut nails = Vec::new();
    let mut flush = vec![(v(0.0, 2.0, 20.0), 30.0), (v(-40.0, 180.0, 15.0), 22.0), (v(44.0, 172.0, 12.0), 18.0)];
    for n in 0..TOES.len() {
        let (tip, nail) = toe(&mut form, n);
        nails.push(nail);
        flush.push((tip, 11.0));
    }
    form.carve(Primitive::Ellipsoid { centre: v(-46.0, 108.0, -4.0), radii: v(34.0, 52.0, 28.0) }, 16.0) // arch
        .carve(Primitive::Below(0.8), 7.0);
    let bump = |form: &mut Form, path: &[(f64, f64, f64)], radius: f64, height: f64| {
        let on_skin = path.iter().map(|&(x, y, z)| form.project(&v(x, y, z), 12)).collect();
        form.swell(on_skin, radius, height);
    };
    let bony = |form: &mut Form, name: &'static str, path: &[(f64, f64, f64)], radius: f64, height: f64| {
        let on_skin = path.iter().map(|&(x, y, z)| form.project(&v(x, y, z), 12)).collect();
        form.bone_under_skin(name, on_skin, radius, height);
    };
    bony(
        &mut form,
        "outer ankle bone",
        &[(bone_out, 48.0, bone_up - 4.0), (bone_out - 1.0, 50.0, bone_up + 16.0)],
        15.0,
        6.5,
    );
    bony(
        &mut form,
        "inner ankle bone",
        &[(-bone_out, 62.0, bone_up + 9.0), (1.0 - bone_out, 60.0, bone_up + 26.0)],
        16.0,
        5.5,
    );
    bump(&mut form, &[(24.0, 27.0, 62.0), (22.0, 28.0, 100.0)], 14.0, -4.5); // hollows beside the heel tendon
    bump(&mut form, &[(-24.0, 30.0, 64.0), (-22.0, 30.0, 104.0)], 14.0, -4.5);
    bump(&mut form, &[(30.0, 80.0, 58.0)], 16.0, -3.0);
    bony(&mut form, "navicular", &[(-36.0, 92.0, 40.0)], 14.0, 3.0);
    bony(&mut form, "base of the fifth metatarsal", &[(40.0, 108.0, 18.0)], 13.0, 3.0);
    bony(&mut form, "ball of the big toe", &[(-42.0, 180.0, 18.0)], 15.0, 2.5);
    for (x, end) in [(-26.0, -26.0), (-6.0, -7.0), (5.0, 7.0), (12.0, 19.0)] {
        bump(&mut form, &[(x * 0.3 - 4.0, 100.0, 72.0), (x * 0.8, 150.0, 46.0), (end, 178.0, 33.0)], 4.0, 1.2); // tendons
    }
    bump(&mut form, &[(-10.0, 84.0, 92.0), (-14.0, 100.0, 72.0)], 6.0, 2.2); // tibialis anterior
    bump(&mut form, &[(12.0, 120.0, 52.0), (0.0, 140.0, 48.0), (-12.0, 158.0, 40.0)], 3.0, 0.8); // vein

    let (out, up, front) = (v(1.0, 0.05, 0.0), v(0.0, 0.0, 1.0), v(0.0, 1.0, 0.0));
    let line = ring(&form, 40, |s| {
        let (sin, cos) = libm::sincos(s);
        let wobble = 1.0 + 0.05 * libm::cos(2.0 * s + 1.1);
        (v(0.0, 54.0, bone_up + 4.0), out + up * (1.12 * sin * wobble) + front * (0.68 * cos * wobble))
    });
    let high = 168.0;
    Model {
        form,
        box_lo: v(-60.0, -12.0, -8.0),
        box_hi: v(65.0, 262.0, high + 10.0),
        seen: Box::new(move |p| high - p.z + 0.1 * p.y),
        line,
        flush,
        nails,
    }
}

/// Joins a toe to the foot; returns its tip and its nail.
fn toe(form: &mut Form, n: usize) -> (V, (V, V, f64)) {
    let joints = TOES[n].map(|(x, y, z, r)| (v(x, y * FOOT_LENGTH.mid, z), r));
    let [(knuckle, knuckle_radius), (bend, bend_radius), (tip, radius)] = joints;
    let mut toe = Form::default();
    toe.bones(&joints, 3.0).joint("knuckle of a toe", knuckle, knuckle_radius).joint(
        "joint of a toe",
        bend + v(0.0, 0.0, bend_radius),
        bend_radius,
    );
    form.join(Primitive::Group(toe), if n == 0 { 3.5 } else { 2.5 });
    let along = (tip - bend).normalize();
    let up = (v(0.0, 0.0, 1.0) - along * along.z).normalize();
    (tip, (tip + up * (radius * 0.9) + along * (radius * 0.2), up, radius * 0.58))
}
