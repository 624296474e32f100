//! Area and coverage of a zone.

use mesh::Surface;

use crate::{Region, Zone};

/// How much of the limb's circumference is covered at one height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coverage {
    /// Height along the limb.
    pub z_mm: f32,
    /// Length of the skin's section there.
    pub around_mm: f32,
    /// Covered share of it, 0 to 1.
    pub share: f32,
}

impl Region {
    /// Area inside the edge on the triangles of `skin`, cut where the distance is zero.
    #[must_use]
    pub fn area_mm2(&self, skin: &Surface) -> f64 {
        let mut sum = 0.0;
        for (t, corners) in skin.mesh().triangles.iter().enumerate() {
            let d = corners.map(|v| self.distance_mm.get(v as usize).map_or(-1.0, |d| f64::from(*d)));
            sum += 0.5 * skin.mesh().cross(t).norm() * positive_share(d);
        }
        sum
    }
}

/// Share of a triangle where the linear function with values `d` at the corners is positive.
fn positive_share(d: [f64; 3]) -> f64 {
    // The share of the triangle that the zero line cuts off at corner k.
    let corner = |k: usize| d[k] / (d[k] - d[(k + 1) % 3]) * (d[k] / (d[k] - d[(k + 2) % 3]));
    let positive: Vec<usize> = (0..3).filter(|k| d[*k] > 0.0).collect();
    match positive[..] {
        [] => 0.0,
        [k] => corner(k),
        [a, b] => 1.0 - if d[3 - a - b] < 0.0 { corner(3 - a - b) } else { 0.0 },
        _ => 1.0,
    }
}

/// The size of a zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    /// Covered area of skin, cm².
    pub area_cm2: f64,
    /// The height at which most of the circumference is covered.
    pub widest: Coverage,
    /// Length along the limb, mm.
    pub length_mm: f32,
}

impl Zone {
    /// Area, length and greatest share of the circumference; `None` for a zone without height.
    #[must_use]
    pub fn extent(&self, skin: &Surface) -> Option<Extent> {
        let along = self.coverage(skin, 2.0);
        let widest = along.iter().copied().max_by(|a, b| a.share.total_cmp(&b.share))?;
        let length_mm = along.last()?.z_mm - along.first()?.z_mm;
        Some(Extent { area_cm2: self.area_cm2(skin), widest, length_mm })
    }

    /// Covered area of skin, cm².
    #[must_use]
    pub fn area_cm2(&self, skin: &Surface) -> f64 {
        self.covered.area_mm2(skin) / 100.0
    }

    /// The covered share of the circumference every `step_mm` of height over which the zone runs.
    #[must_use]
    pub fn coverage(&self, skin: &Surface, step_mm: f32) -> Vec<Coverage> {
        let mesh = skin.mesh();
        let inside = mesh.points.iter().zip(&self.covered.distance_mm).filter(|(_, d)| **d >= 0.0).map(|(p, _)| p.z);
        let (low, high) = inside.fold((f32::INFINITY, f32::NEG_INFINITY), |(lo, hi), z| (lo.min(z), hi.max(z)));
        if !(low < high && step_mm > 0.0) {
            return Vec::new();
        }
        let (first, count) = ((low / step_mm).ceil(), ((high - low) / step_mm).floor() as usize + 1);
        let mut sums = vec![(0.0_f64, 0.0_f64); count];
        for (t, corners) in mesh.triangles.iter().enumerate() {
            let p = mesh.corners(t).map(|p| p.cast::<f64>());
            let d = corners.map(|v| self.covered.distance_mm.get(v as usize).map_or(-1.0, |d| f64::from(*d)));
            let (lo, hi) = (p[0].z.min(p[1].z).min(p[2].z), p[0].z.max(p[1].z).max(p[2].z));
            let from = ((lo as f32 / step_mm).ceil() - first).max(0.0) as usize;
            for (i, sum) in sums.iter_mut().enumerate().skip(from) {
                let z = f64::from((first + i as f32) * step_mm);
                if z > hi {
                    break;
                }
                let mut ends = Vec::with_capacity(2);
                for k in 0..3 {
                    let (a, b) = (p[k], p[(k + 1) % 3]);
                    if (a.z < z) != (b.z < z) {
                        let s = (z - a.z) / (b.z - a.z);
                        ends.push((a + (b - a) * s, d[k] + (d[(k + 1) % 3] - d[k]) * s));
                    }
                }
                if let [(a, u), (b, v)] = ends[..] {
                    let length = (b - a).norm();
                    let share = match (u >= 0.0, v >= 0.0) {
                        (true, true) => 1.0,
                        (false, false) => 0.0,
                        (true, false) => u / (u - v),
                        (false, true) => v / (v - u),
                    };
                    sum.0 += length;
                    sum.1 += length * share;
                }
            }
        }
        sums.iter()
            .enumerate()
            .filter(|(_, s)| s.0 > 0.0)
            .map(|(i, s)| Coverage {
                z_mm: (first + i as f32) * step_mm,
                around_mm: s.0 as f32,
                share: (s.1 / s.0) as f32,
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use mesh::Mesh;
    use nalgebra::Point3;

    #[test]
    fn a_disc_on_a_sheet_has_the_extent_of_a_disc() {
        // A sheet of 100 mm round and 100 mm high, a vertex every millimetre, with a disc of 20 mm in its middle.
        let points: Vec<Point3<f32>> =
            (0..101 * 101).map(|i| Point3::new((i % 101) as f32, 0.0, (i / 101) as f32)).collect();
        let triangles = (0..100 * 100)
            .flat_map(|i| {
                let a = i / 100 * 101 + i % 100;
                [[a, a + 1, a + 102], [a, a + 102, a + 101]]
            })
            .collect();
        let mut zone = Zone::default();
        zone.covered.distance_mm = points.iter().map(|p| 20.0 - (p - Point3::new(50.0, 0.0, 50.0)).norm()).collect();
        let skin = Surface::new(Mesh::new(points, triangles));
        let extent = zone.extent(&skin).unwrap();
        assert!((extent.area_cm2 / (std::f64::consts::PI * 4.0) - 1.0).abs() < 0.01, "{extent:?}");
        assert!((extent.widest.share - 0.4).abs() < 0.005 && (extent.widest.z_mm - 50.0).abs() < 0.01, "{extent:?}");
        assert!((extent.length_mm - 40.0).abs() <= 2.0, "{extent:?}");
        zone.covered.distance_mm.fill(-1.0);
        assert_eq!(zone.extent(&skin), None);
    }
}
