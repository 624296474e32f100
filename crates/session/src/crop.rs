//! Cutting the ends of the limb off: heights on the limb, kept as planes in the scan file's coordinates.

use nalgebra::{Point3, Vector3};
use scan::{Crop, Placement};

/// Heights between which the limb is kept, mm along its axis; none keeps that end whole.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ends {
    /// Everything below goes.
    pub low_mm: Option<f32>,
    /// Everything above goes.
    pub high_mm: Option<f32>,
}

impl Ends {
    /// Reads them from a design's crops: planes across the limb only, other crops are ignored.
    #[must_use]
    pub fn of(crops: &[Crop], placement: &Placement) -> Self {
        let mut ends = Self::default();
        for crop in crops {
            match across(crop, placement) {
                Some((z, true)) => ends.low_mm = Some(ends.low_mm.map_or(z, |low| low.max(z))),
                Some((z, false)) => ends.high_mm = Some(ends.high_mm.map_or(z, |high| high.min(z))),
                None => {}
            }
        }
        ends
    }

    /// Replaces all planes across the limb by these; other crops stay.
    pub fn put(self, crops: &mut Vec<Crop>, placement: &Placement) {
        crops.retain(|crop| across(crop, placement).is_none());
        let plane = |z: f32, up: f64| {
            let point = placement.scan_from_limb(&Point3::new(0.0, 0.0, f64::from(z)));
            let beyond = placement.scan_from_limb(&Point3::new(0.0, 0.0, f64::from(z) + up));
            Crop::Plane { point: point.into(), keep: (beyond - point).normalize().into() }
        };
        crops.extend(self.low_mm.map(|z| plane(z, 1.0)));
        crops.extend(self.high_mm.map(|z| plane(z, -1.0)));
    }
}

/// Height of a plane across the limb's axis and whether it keeps what is above.
fn across(crop: &Crop, placement: &Placement) -> Option<(f32, bool)> {
    let Crop::Plane { point, keep } = crop else { return None };
    let (point, keep) = (Point3::from(*point), Vector3::from(*keep));
    let at = placement.limb_from_scan(&point);
    let way = (placement.limb_from_scan(&(point + keep)) - at).try_normalize(1e-12)?;
    (way.z.abs() > 0.9999).then_some((at.z as f32, way.z > 0.0))
}

#[cfg(test)]
mod tests {
    use nalgebra::{Isometry3, Vector3};

    use super::*;

    #[test]
    fn heights_come_back_from_a_scan_that_lies_askew_in_inches_and_is_mirrored() {
        let placement = Placement {
            unit_mm: 25.4,
            pose: Isometry3::new(Vector3::new(30.0, -12.0, 200.0), Vector3::new(0.4, -1.1, 0.3)),
            mirrored: true,
        };
        let other = Crop::Box { low: [0.0; 3], high: [9.0; 3] };
        let slanting = Crop::Plane { point: [0.0; 3], keep: [1.0, 0.0, 0.0] };
        let mut crops = vec![other.clone(), slanting.clone()];
        let ends = Ends { low_mm: Some(-80.0), high_mm: Some(65.5) };
        ends.put(&mut crops, &placement);
        assert_eq!(crops.len(), 4);
        let back = Ends::of(&crops, &placement);
        assert!((back.low_mm.unwrap() + 80.0).abs() < 1e-3 && (back.high_mm.unwrap() - 65.5).abs() < 1e-3);
        // A point of the limb is on the kept side exactly when its height is between the two.
        for (z, inside) in [(-81.0, false), (-79.0, true), (65.0, true), (66.0, false)] {
            let p = placement.scan_from_limb(&Point3::new(14.0, -3.0, z));
            let kept = crops[2..].iter().all(|crop| match crop {
                Crop::Plane { point, keep } => (p - Point3::from(*point)).dot(&Vector3::from(*keep)) >= 0.0,
                Crop::Box { .. } => false,
            });
            assert_eq!(kept, inside, "at {z}");
        }
        Ends::default().put(&mut crops, &placement);
        assert_eq!(crops, vec![other, slanting], "other crops are left alone");
    }
}
