//! A limb before it is scanned.

use crate::form::{BonyPoint, Form, V};

/// A limb in its own axes, z along the limb, mm.
pub(crate) struct Model {
    pub form: Form,
    /// Corners of the box in which it is meshed.
    pub box_lo: V,
    pub box_hi: V,
    /// Positive where the scanner saw the limb, about the distance to its cut ends.
    pub seen: Box<dyn Fn(&V) -> f64>,
    /// Skin points along the pen line, closed.
    pub line: Vec<V>,
    /// Flushed skin: middle and reach.
    pub flush: Vec<(V, f64)>,
    /// Nails: middle, outward normal, half width.
    pub nails: Vec<(V, V, f64)>,
}

impl Model {
    /// The bony points, on the skin, that were seen at least in part.
    pub(crate) fn bony_points(&self) -> Vec<BonyPoint> {
        let on_skin = |bony: BonyPoint| BonyPoint { at: self.form.project(&bony.at, 12), ..bony };
        self.form.bony_points().into_iter().map(on_skin).filter(|bony| (self.seen)(&bony.at) > -bony.radius).collect()
    }
}

/// A closed line of `count` skin points: `ray` gives a point inside and the direction outward for an angle from 0 to
/// 2π.
pub(crate) fn ring(form: &Form, count: usize, ray: impl Fn(f64) -> (V, V)) -> Vec<V> {
    (0..count)
        .map(|k| {
            let (from, along) = ray(std::f64::consts::TAU * k as f64 / count as f64);
            form.cast(&from, &along)
        })
        .collect()
}

/// A rounded oblong: (cos, sin) pushed out towards the corners of a square.
pub(crate) fn oblong(s: f64) -> (f64, f64) {
    let (sin, cos) = libm::sincos(s);
    let squared = libm::sqrt(libm::sqrt(cos * cos * cos * cos + sin * sin * sin * sin));
    (cos / squared, sin / squared)
}

/// Direction in the plane of a section, from +x towards +y.
pub(crate) fn heading(angle_deg: f64) -> V {
    let (sin, cos) = libm::sincos(angle_deg.to_radians());
    V::new(cos, sin, 0.0)
}
