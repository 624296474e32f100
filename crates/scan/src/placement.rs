//! How a limb lies in its scan file.

use nalgebra::{Isometry3, Point3};
use serde::{Deserialize, Serialize};

/// The transform from the scan file's own coordinates and unit to the limb's axes in millimetres.
///
/// `limb = mirror(pose · (unit_mm · scan))`, where the mirror, if any, turns x into −x.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Placement {
    /// Millimetres in one unit of the scan file.
    pub unit_mm: f64,
    /// Rotation and translation, applied after the unit.
    pub pose: Isometry3<f64>,
    /// Left and right are swapped (x becomes −x) after the pose.
    pub mirrored: bool,
}

impl Placement {
    /// A point of the scan file, in limb axes and millimetres.
    #[must_use]
    pub fn limb_from_scan(&self, p: &Point3<f64>) -> Point3<f64> {
        let mut q = self.pose * Point3::from(p.coords * self.unit_mm);
        if self.mirrored {
            q.x = -q.x;
        }
        q
    }

    /// A point of the limb, in the scan file's own coordinates and unit.
    #[must_use]
    pub fn scan_from_limb(&self, p: &Point3<f64>) -> Point3<f64> {
        let mut q = *p;
        if self.mirrored {
            q.x = -q.x;
        }
        Point3::from(self.pose.inverse_transform_point(&q).coords / self.unit_mm)
    }
}
