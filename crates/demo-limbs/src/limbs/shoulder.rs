//! Shoulder with upper arm and part of the chest. Origin at the bony point; x outward, y to the back, z up.

use crate::form::{Form, Primitive, V, v};
use crate::model::{Model, ring};
use crate::profile::{Station, Tube};
use crate::sizes::BICEPS_CIRCUMFERENCE;

/// A shoulder with a pen line around its bony point. The trunk's sections are drawn by eye.
pub(crate) fn shoulder() -> Model {
    // Flexed biceps 304 (ANSUR II women, median); relaxed about 8 % less.
    let arm = BICEPS_CIRCUMFERENCE.mid * 0.92 / std::f64::consts::TAU;
    let section =
        |z: f64, circumference: f64, aspect: f64, y: f64| Station { z, circumference, aspect, middle: [-176.0, y] };
    let chest = Tube::new(&[
        section(-300.0, 740.0, 1.25, 0.0),
        section(-220.0, 790.0, 1.25, 0.0),
        section(-140.0, 840.0, 1.28, 2.0),
        section(-70.0, 800.0, 1.38, 6.0),
        section(-25.0, 640.0, 1.45, 10.0),
        section(15.0, 430.0, 1.2, 10.0),
        section(50.0, 340.0, 1.0, 6.0),
        section(120.0, 330.0, 1.0, 0.0),
    ]);
    let mut form = Form::default();
    form.join(Primitive::Tube(chest), 0.0)
        .bones(&[(v(-135.0, 22.0, 60.0), 34.0), (v(-92.0, 20.0, 12.0), 31.0), (v(-30.0, 8.0, -22.0), 24.0)], 34.0) // trapezius
        .bones(
            &[(v(-22.0, 4.0, -42.0), arm * 0.98), (v(22.0, 4.0, -140.0), arm), (v(62.0, 6.0, -270.0), arm * 0.88)],
            22.0,
        )
        .join(Primitive::Ellipsoid { centre: v(-9.0, 4.0, -58.0), radii: v(43.0, 47.0, 58.0) }, 18.0) // deltoid
        .bones(&[(v(-120.0, -78.0, -120.0), 34.0), (v(-62.0, -52.0, -92.0), 30.0), (v(2.0, -20.0, -96.0), 22.0)], 26.0) // chest muscle
        .bones(&[(v(-95.0, 70.0, -150.0), 40.0), (v(-55.0, 50.0, -110.0), 32.0), (v(0.0, 24.0, -110.0), 22.0)], 28.0) // back of the armpit
        .join(Primitive::Ellipsoid { centre: v(-98.0, -92.0, -158.0), radii: v(52.0, 40.0, 48.0) }, 30.0);
    let skin = |x: f64, y: f64, z: f64, form: &Form| form.project(&v(x, y, z), 12);
    let bump = |form: &mut Form, path: &[(f64, f64, f64)], radius: f64, height: f64| {
        let on_skin = path.iter().map(|&(x, y, z)| skin(x, y, z, form)).collect::<Vec<V>>();
        form.swell(on_skin, radius, height);
    };
    let bony = |form: &mut Form, name: &'static str, path: &[(f64, f64, f64)], radius: f64, height: f64| {
        let on_skin = path.iter().map(|&(x, y, z)| skin(x, y, z, form)).collect::<Vec<V>>();
        form.bone_under_skin(name, on_skin, radius, height);
    };
    bump(
        &mut form,
        &[(-165.0, -70.0, -8.0), (-110.0, -52.0, 4.0), (-68.0, -30.0, 12.0), (-34.0, -8.0, 10.0)],
        13.0,
        5.5,
    ); // collar bone
    bump(&mut form, &[(-100.0, -18.0, 35.0), (-72.0, -8.0, 22.0)], 24.0, -6.0); // hollow above it
    bump(&mut form, &[(-92.0, -66.0, -32.0), (-48.0, -44.0, -34.0)], 22.0, -5.0); // hollow below it
    bony(&mut form, "joint of collar bone and shoulder", &[(-33.0, -6.0, 10.0)], 11.0, 3.0);
    bony(&mut form, "point of the shoulder", &[(-14.0, 0.0, 5.0), (-2.0, 14.0, -4.0)], 17.0, 4.5);
    bump(&mut form, &[(-14.0, 28.0, -2.0), (-60.0, 62.0, -20.0), (-110.0, 92.0, -48.0)], 17.0, 4.5); // spine of the shoulder blade
    bump(&mut form, &[(-45.0, 66.0, -62.0), (-85.0, 90.0, -90.0)], 26.0, -3.0);
    bump(&mut form, &[(30.0, -26.0, -60.0), (36.0, -10.0, -118.0)], 22.0, 3.5); // front of the deltoid
    bump(&mut form, &[(28.0, 40.0, -62.0), (40.0, 24.0, -118.0)], 22.0, 3.0);
    bump(&mut form, &[(34.0, -38.0, -140.0), (60.0, -38.0, -220.0)], 24.0, 5.0); // biceps
    bump(&mut form, &[(30.0, 50.0, -150.0), (62.0, 48.0, -230.0)], 26.0, 4.0); // triceps
    bump(&mut form, &[(62.0, 2.0, -150.0), (78.0, 4.0, -210.0)], 13.0, -2.5);

    let axis = v(0.55, 0.02, 0.83).normalize();
    let (side, front) = (v(0.83, 0.0, -0.55).normalize(), v(0.0, -1.0, 0.0));
    let line = ring(&form, 40, |s| {
        let (sin, cos) = libm::sincos(s);
        let wobble = 1.0 + 0.06 * libm::cos(3.0 * s + 0.7);
        (v(-16.0, 4.0, -46.0), axis + side * (1.55 * cos * wobble) + front * (1.35 * sin * wobble))
    });
    Model {
        form,
        box_lo: v(-165.0, -150.0, -225.0),
        box_hi: v(130.0, 150.0, 80.0),
        seen: Box::new(|p| {
            let arm_end = p.z + 0.35 * (p.x - 40.0) + 195.0;
            (p.x + 122.0).min(62.0 - p.z).min(arm_end).min(208.0 - (p - v(-45.0, 0.0, -45.0)).norm())
        }),
        line,
        flush: vec![(v(-5.0, 0.0, 5.0), 30.0), (v(-130.0, -70.0, -30.0), 50.0)],
        nails: Vec::new(),
    }
}
