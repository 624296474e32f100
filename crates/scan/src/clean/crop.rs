//! Cropping, and the change to millimetres.

use mesh::{Cancelled, repair};
use nalgebra::{Point3, Vector3};

use super::Cleaning;
use super::outliers::check_size;
use crate::{Crop, ScanError};

/// What is left after cropping may not be larger than this, mm: a room.
const LARGEST_KEPT_MM: f64 = 10_000.0;

impl Cleaning<'_> {
    pub(super) fn crop(&mut self) -> Result<(), ScanError> {
        for (i, crop) in self.settings.crop.iter().enumerate() {
            self.job.step("cropping", 0.05)?;
            let before = self.mesh.area_mm2();
            let (mesh, job) = (&mut self.mesh, self.job);
            let mut cut = |p: Vector3<f64>, keep: Vector3<f64>| {
                job.check()?;
                repair::clip_by_plane(mesh, &Point3::from(p), &keep);
                Ok::<(), Cancelled>(())
            };
            match crop {
                Crop::Plane { point, keep } => cut((*point).into(), (*keep).into())?,
                Crop::Box { low, high } => {
                    for axis in 0..3 {
                        cut((*low).into(), Vector3::ith(axis, 1.0))?;
                        cut((*high).into(), Vector3::ith(axis, -1.0))?;
                    }
                }
            }
            if self.mesh.triangles.is_empty() {
                return Err(ScanError::NothingLeft { number: i + 1 });
            }
            let share = 100.0 * self.mesh.area_mm2() / before;
            let kind = if matches!(crop, Crop::Plane { .. }) { "plane" } else { "box" };
            let triangles = self.mesh.triangles.len();
            let text = format!("Cropping by a {kind} kept {share:.0} % of the surface.");
            self.say("crop", share < 100.0, &[("triangles_kept", triangles)], text);
        }
        Ok(())
    }

    pub(super) fn scale_to_millimetres(&mut self) -> Result<(), ScanError> {
        let unit = self.report.unit.unit;
        check_size(&self.mesh, unit, LARGEST_KEPT_MM)?;
        let (low, high) = self.mesh.bounds().ok_or(ScanError::NoSurface { triangles: 0 })?;
        let middle = nalgebra::center(&low.cast::<f64>(), &high.cast::<f64>()).coords * unit.mm();
        for p in &mut self.mesh.points {
            p.coords = (p.coords.cast::<f64>() * unit.mm() - middle).cast();
        }
        self.shift = -middle;
        let text = format!("The file is in {}: {}.", unit.name(), self.report.unit.why);
        self.say("unit", unit.mm() != 1.0, &[], text);
        Ok(())
    }
}
