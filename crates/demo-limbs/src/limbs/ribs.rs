//! One side of the rib cage, waist to below the armpit. x outward, y to the back, z up with 0 at the waist.

use crate::form::{Form, Primitive, v};
use crate::model::{Model, heading, oblong, ring};
use crate::profile::{Station, Tube};

/// A rib side with a pen line over the lower ribs. The sections are drawn by eye.
pub(crate) fn ribs() -> Model {
    let section =
        |z: f64, circumference: f64, aspect: f64, y: f64| Station { z, circumference, aspect, middle: [0.0, y] };
    let trunk = Tube::new(&[
        section(-140.0, 940.0, 1.45, 0.0),
        section(-70.0, 850.0, 1.42, 0.0),
        section(-10.0, 755.0, 1.36, 0.0),
        section(40.0, 735.0, 1.32, 0.0),
        section(100.0, 765.0, 1.28, 2.0),
        section(170.0, 815.0, 1.27, 4.0),
        section(240.0, 850.0, 1.28, 6.0),
        section(300.0, 860.0, 1.32, 6.0),
    ]);
    let mut form = Form::default();
    form.join(Primitive::Tube(trunk.clone()), 0.0);
    form.swell(trunk.path(&[(20.0, 62.0), (150.0, 52.0), (270.0, 42.0)]), 52.0, 9.0) // broad muscle of the back
        .swell(trunk.path(&[(-60.0, 25.0), (-50.0, -15.0), (-75.0, -48.0)]), 30.0, 8.0) // crest of the hip
        .swell(trunk.path(&[(-25.0, -20.0), (-15.0, 20.0)]), 30.0, 5.0) // flank above it
        .swell(trunk.path(&[(205.0, -62.0), (262.0, -55.0)]), 74.0, 26.0) // breast, lower outer part
        .swell(trunk.path(&[(70.0, -28.0), (105.0, -52.0), (135.0, -72.0)]), 24.0, 2.6) // rib margin
        .swell(trunk.path(&[(48.0, -40.0), (85.0, -64.0)]), 26.0, -4.0)
        .swell(trunk.path(&[(30.0, -95.0), (120.0, -95.0)]), 30.0, 3.0);
    for rib in 0..8 {
        // Ribs slope down to the front; the lower ones are shorter and lie flatter under the skin.
        let top = 78.0 + 24.0 * f64::from(rib);
        let height = 1.0 + 0.16 * f64::from(rib.min(4));
        let front = -34.0 - 3.0 * f64::from(rib);
        form.swell(
            trunk.path(&[(top + 36.0, 62.0), (top + 10.0, 24.0), (top - 18.0, -8.0), (top - 30.0, front)]),
            11.0,
            height,
        );
    }
    for finger in 0..4 {
        let z = 118.0 + 25.0 * f64::from(finger);
        let angle = -6.0 - 3.0 * f64::from(finger);
        form.swell(trunk.path(&[(z, angle - 10.0), (z + 9.0, angle + 10.0)]), 13.0, 2.6); // serratus
    }
    let line = ring(&form, 48, |s| {
        let (along, around) = oblong(s);
        let angle = 2.0 + 33.0 * around;
        let z = 128.0 + 66.0 * along + 13.0 * around;
        (v(0.0, 0.0, z), heading(angle))
    });
    Model {
        form,
        box_lo: v(5.0, -150.0, -75.0),
        box_hi: v(205.0, 145.0, 275.0),
        seen: Box::new(|p| (p.z + 62.0 + 0.1 * p.y).min(262.0 - p.z - 0.12 * p.y).min(p.x - 28.0)),
        line,
        flush: vec![(v(150.0, -60.0, 120.0), 60.0), (v(150.0, 20.0, -20.0), 50.0)],
        nails: Vec::new(),
    }
}
