//! Below the knee to above the ankle. z = 0 at the floor; x outward, y to the back.

use crate::form::{Form, Primitive, v};
use crate::model::{Model, heading, oblong, ring};
use crate::profile::{Station, Tube};
use crate::sizes::{ANKLE_CIRCUMFERENCE, CALF_CIRCUMFERENCE, TIBIAL_HEIGHT};

/// A shin with a pen line over its front.
pub(crate) fn shin() -> (Model, Tube) {
    // Ankle 215, calf 372, knee joint 437 above the floor: medians of ANSUR II women.
    let (ankle, calf, knee) = (ANKLE_CIRCUMFERENCE.mid, CALF_CIRCUMFERENCE.mid, TIBIAL_HEIGHT.mid);
    let station = |t: f64, girth: f64, aspect: f64, x: f64, y: f64| Station {
        z: t * knee,
        circumference: ankle + (calf * 0.955 - ankle) * girth,
        aspect,
        middle: [x, y],
    };
    let leg = Tube::new(&[
        station(0.14, 0.18, 0.92, 0.0, 2.0),
        station(0.20, 0.05, 0.88, 0.0, 3.0),
        station(0.27, 0.0, 0.90, 0.0, 5.0),
        station(0.36, 0.12, 0.93, 0.0, 7.0),
        station(0.46, 0.38, 0.95, 0.0, 10.0),
        station(0.57, 0.75, 0.97, -1.0, 15.0),
        station(0.68, 1.0, 0.99, -1.0, 18.0),
        station(0.77, 0.98, 1.0, 0.0, 17.0),
        station(0.86, 0.86, 1.0, 0.0, 12.0),
        station(0.95, 0.80, 1.0, 0.0, 6.0),
        station(1.05, 0.84, 1.0, 0.0, 2.0),
    ]);
    let path = |points: &[(f64, f64)]| leg.path(&points.iter().map(|(t, a)| (t * knee, *a)).collect::<Vec<_>>());
    let mut form = Form::default();
    form.join(Primitive::Tube(leg.clone()), 0.0);
    form.swell(path(&[(0.84, 122.0), (0.72, 128.0), (0.62, 126.0)]), 44.0, 8.5) // inner calf
        .swell(path(&[(0.86, 58.0), (0.75, 52.0), (0.68, 52.0)]), 40.0, 6.5) // outer calf
        .swell(path(&[(0.88, 90.0), (0.62, 90.0)]), 11.0, -2.0) // furrow between them
        .swell(path(&[(0.56, 158.0), (0.44, 152.0)]), 28.0, 3.5) // soleus
        .swell(path(&[(0.56, 22.0), (0.44, 28.0)]), 26.0, 3.0)
        .swell(path(&[(0.14, 90.0), (0.26, 90.0), (0.40, 90.0)]), 13.0, 4.5) // heel tendon
        .swell(path(&[(0.12, 132.0), (0.30, 132.0)]), 15.0, -4.0)
        .swell(path(&[(0.12, 48.0), (0.30, 48.0)]), 15.0, -4.0)
        .swell(path(&[(0.90, -92.0), (0.70, -96.0), (0.45, -98.0), (0.28, -104.0)]), 11.0, 3.6) // edge of the shin bone
        .swell(path(&[(0.84, -128.0), (0.6, -134.0), (0.34, -138.0)]), 24.0, -3.2) // its flat inner face
        .swell(path(&[(0.86, -58.0), (0.68, -62.0), (0.5, -68.0)]), 24.0, 4.5) // tibialis anterior
        .swell(path(&[(0.8, -12.0), (0.5, -8.0)]), 18.0, 2.0) // peroneals
        .bone_under_skin("tibial tuberosity", path(&[(0.905, -90.0)]), 17.0, 5.0)
        .bone_under_skin("head of the fibula", path(&[(0.93, -8.0)]), 16.0, 4.0)
        .bone_under_skin("outer ankle bone", path(&[(0.15, 4.0)]), 19.0, 6.0)
        .bone_under_skin("inner ankle bone", path(&[(0.17, -172.0)]), 20.0, 6.0)
        .swell(path(&[(0.2, -140.0), (0.4, -165.0), (0.6, -178.0), (0.85, -175.0)]), 3.2, 0.9); // long vein
    let line = ring(&form, 48, |s| {
        let (along, around) = oblong(s);
        let z = knee * (0.585 + 0.255 * along);
        (leg.middle(z), heading(-92.0 + 62.0 * around + 3.0 * along))
    });
    let (low, high) = (0.175 * knee, 0.945 * knee);
    let model = Model {
        form,
        box_lo: v(-90.0, -85.0, low - 8.0),
        box_hi: v(90.0, 110.0, high + 8.0),
        seen: Box::new(move |p| (p.z - low + 0.1 * p.y).min(high - p.z + 0.1 * p.x)),
        line,
        flush: vec![(leg.skin(0.9 * knee, -90.0), 30.0), (leg.skin(0.5 * knee, -110.0), 36.0)],
        nails: Vec::new(),
    };
    (model, leg)
}
