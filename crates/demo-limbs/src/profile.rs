//! The trunk of a limb: ellipses of given circumference along z.

use crate::form::{V, ellipse_distance, v};

/// One section of a trunk.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Station {
    /// Height, mm.
    pub z: f64,
    /// Circumference of the skin, mm.
    pub circumference: f64,
    /// Width in x by depth in y.
    pub aspect: f64,
    /// Middle of the section.
    pub middle: [f64; 2],
}

/// A trunk through its stations, smooth in between and constant beyond the ends.
#[derive(Debug, Clone)]
pub(crate) struct Tube {
    /// z, half width, half depth, middle x, middle y.
    rows: Vec<[f64; 5]>,
}

impl Tube {
    pub(crate) fn new(stations: &[Station]) -> Self {
        let rows = stations
            .iter()
            .map(|s| {
                let half_depth = s.circumference / ellipse_perimeter(s.aspect, 1.0);
                [s.z, half_depth * s.aspect, half_depth, s.middle[0], s.middle[1]]
            })
            .collect();
        Self { rows }
    }

    /// Half width, half depth and middle at height z (cubic Hermite with Catmull-Rom slopes).
    fn section(&self, z: f64) -> [f64; 4] {
        let rows = &self.rows;
        let last = rows.len() - 1;
        let z = z.clamp(rows[0][0], rows[last][0]);
        let i = rows[1..last].iter().take_while(|r| r[0] <= z).count();
        let (a, b) = (&rows[i], &rows[i + 1]);
        let (before, after) = (&rows[i.saturating_sub(1)], &rows[(i + 2).min(last)]);
        let span = b[0] - a[0];
        let t = (z - a[0]) / span;
        let (t2, t3) = (t * t, t * t * t);
        std::array::from_fn(|k| {
            let k = k + 1;
            let slope_a = (b[k] - before[k]) / (b[0] - before[0]) * span;
            let slope_b = (after[k] - a[k]) / (after[0] - a[0]) * span;
            (2.0 * t3 - 3.0 * t2 + 1.0) * a[k]
                + (t3 - 2.0 * t2 + t) * slope_a
                + (3.0 * t2 - 2.0 * t3) * b[k]
                + (t3 - t2) * slope_b
        })
    }

    pub(crate) fn value(&self, p: &V) -> f64 {
        let [a, b, x, y] = self.section(p.z);
        let (qx, qy) = ((p.x - x) / a, (p.y - y) / b);
        let k0 = (qx * qx + qy * qy).sqrt();
        let k1 = ((qx / a) * (qx / a) + (qy / b) * (qy / b)).sqrt();
        ellipse_distance(k0, k1, a.min(b))
    }

    /// Middle of the section at height z.
    pub(crate) fn middle(&self, z: f64) -> V {
        let [_, _, x, y] = self.section(z);
        v(x, y, z)
    }

    /// The trunk's skin at height z in the direction `angle_deg`, from +x towards +y.
    pub(crate) fn skin(&self, z: f64, angle_deg: f64) -> V {
        let [a, b, x, y] = self.section(z);
        let (sin, cos) = libm::sincos(angle_deg.to_radians());
        let r = 1.0 / ((cos / a) * (cos / a) + (sin / b) * (sin / b)).sqrt();
        v(x + r * cos, y + r * sin, z)
    }

    /// A path on the trunk's skin through `(z, angle)`.
    pub(crate) fn path(&self, points: &[(f64, f64)]) -> Vec<V> {
        let mut path = Vec::new();
        for pair in points.windows(2) {
            for step in 0..4 {
                let t = f64::from(step) / 4.0;
                path.push(self.skin(pair[0].0 + (pair[1].0 - pair[0].0) * t, pair[0].1 + (pair[1].1 - pair[0].1) * t));
            }
        }
        path.extend(points.last().map(|&(z, angle)| self.skin(z, angle)));
        path
    }
}

/// Perimeter of an ellipse with half axes a and b (Ramanujan's second formula).
pub(crate) fn ellipse_perimeter(a: f64, b: f64) -> f64 {
    let h = (a - b) * (a - b) / ((a + b) * (a + b));
    std::f64::consts::PI * (a + b) * (1.0 + 3.0 * h / (10.0 + (4.0 - 3.0 * h).sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_station_has_its_circumference() {
        let station = |z| Station { z, circumference: 200.0, aspect: 1.4, middle: [3.0, -2.0] };
        let tube = Tube::new(&[station(0.0), station(50.0), station(100.0)]);
        let ring: Vec<V> = (0..3600).map(|k| tube.skin(40.0, f64::from(k) * 0.1)).collect();
        let length: f64 = (0..ring.len()).map(|k| (ring[k] - ring[(k + 1) % ring.len()]).norm()).sum();
        assert!((length - 200.0).abs() < 0.02, "{length}");
        assert!(ring.iter().all(|p| tube.value(p).abs() < 1e-9));
    }
}
