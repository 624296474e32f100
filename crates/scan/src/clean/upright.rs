//! Standing the limb on its axes.

use nalgebra::UnitQuaternion;

use super::Cleaning;
use crate::axes::{LongAxis, centred, stand};
use crate::ends::OpenLoop;
use crate::{BodySite, Placement, ScanError};

impl Cleaning<'_> {
    /// Turns the mesh upright, or only moves it to the origin, and mirrors it; returns its placement.
    pub(super) fn stand(&mut self, axis: &LongAxis, ends: &[OpenLoop], site: BodySite) -> Result<Placement, ScanError> {
        self.job.step("standing the limb up", 0.95)?;
        let pose = if self.settings.upright {
            let leg = match ends {
                [end] if site == BodySite::Ankle => LongAxis::of_leg(&self.mesh, end, self.job)?,
                _ => None,
            };
            let axis = leg.as_ref().unwrap_or(axis);
            let found = stand(&self.mesh, axis, ends, self.job)?;
            let text = format!("The limb's long axis is {}; {}.", axis.how, found.why_up);
            self.say("upright", true, &[], text);
            found.pose
        } else {
            self.say(
                "upright",
                false,
                &[],
                "The limb keeps the file's axes, as asked; it was moved to the origin.".into(),
            );
            centred(&self.mesh, UnitQuaternion::identity())
        };
        if self.settings.mirror {
            self.say("mirror", true, &[], "Left and right were swapped.".into());
        }
        self.job.check()?;
        let flip = if self.settings.mirror { -1.0 } else { 1.0 };
        for p in &mut self.mesh.points {
            let mut q = pose * p.cast::<f64>();
            q.x *= flip;
            *p = q.cast();
        }
        if self.settings.mirror {
            for t in &mut self.mesh.triangles {
                t.swap(1, 2);
            }
        }
        Ok(self.placement(pose, self.settings.mirror))
    }
}
