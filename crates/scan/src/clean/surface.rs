//! Filling holes and removing noise.

use mesh::{Adjacency, repair};
use nalgebra::Point3;

use super::Cleaning;
use crate::axes::LongAxis;
use crate::ends::{OpenLoop, open_loops};
use crate::report::{FilledHole, count};
use crate::{ScanError, ScanWarning};

impl Cleaning<'_> {
    pub(super) fn fill_holes(&mut self) -> Result<(LongAxis, Vec<OpenLoop>), ScanError> {
        self.job.step("filling holes", 0.4)?;
        let axis = LongAxis::of(&self.mesh, self.job)?;
        let adjacency = Adjacency::build(&self.mesh, self.job)?;
        let (ends, holes): (Vec<OpenLoop>, Vec<OpenLoop>) =
            open_loops(&self.mesh, &adjacency, &axis).into_iter().partition(|l| l.is_end);
        let (fill, wide): (Vec<OpenLoop>, Vec<OpenLoop>) =
            holes.into_iter().partition(|l| l.rim_mm <= self.settings.fill_holes_mm && self.settings.mend);
        let rings: Vec<Vec<u32>> = fill.into_iter().map(|l| l.ring).collect();
        let done = repair::fill_holes(&mut self.mesh, &adjacency, &rings, self.job)?;
        let hole = |(rim_mm, middle): &(f64, Point3<f32>)| FilledHole {
            rim_mm: *rim_mm,
            middle_scan: self.in_scan(&middle.cast()).into(),
        };
        let filled: Vec<FilledHole> = done.holes.iter().map(hole).collect();
        let mut text = format!(
            "{} filled; {} left open.",
            count(filled.len(), "hole was", "holes were"),
            count(ends.len(), "cut end of the limb was", "cut ends of the limb were")
        );
        let left = wide.len() + done.left;
        if left > 0 {
            text.push_str(&format!(" {} not filled.", count(left, "hole was", "holes were")));
        }
        if let Some(widest) = wide.iter().max_by(|a, b| a.rim_mm.total_cmp(&b.rim_mm))
            && self.settings.fill_holes_mm > 0.0
        {
            let at = self.report.unit.unit.said_place(&self.in_scan(&widest.middle));
            let filled_to_mm = self.settings.fill_holes_mm;
            self.report.warnings.push(ScanWarning::WideHole { rim_mm: widest.rim_mm, at, filled_to_mm });
        }
        self.report.holes = filled;
        let filled = self.report.holes.len();
        self.say(
            "holes",
            filled > 0,
            &[("filled", filled), ("left", left), ("ends", ends.len()), ("triangles_added", done.triangles)],
            text,
        );
        Ok((axis, ends))
    }

    pub(super) fn smooth(&mut self, measured: usize) -> Result<(), ScanError> {
        self.job.step("removing noise", 0.5)?;
        let done = repair::smooth(&mut self.mesh, self.settings.smooth, measured, self.job)?;
        self.report.noise_mm = done.noise_mm;
        let changed = done.farthest_mm > 0.0;
        let text = if changed {
            format!(
                "Scanner noise of {:.1} mm was found and smoothed away; points moved {:.1} mm on average, {:.1} mm at most.",
                done.noise_mm, done.moved_mm, done.farthest_mm
            )
        } else if self.settings.smooth == 0.0 {
            format!("Noise of {:.1} mm was not removed, as asked.", done.noise_mm)
        } else {
            "The surface is free of noise and was left as it is.".into()
        };
        let moved = if changed { self.mesh.points.len() } else { 0 };
        self.say("noise", changed, &[("points_moved", moved)], text);
        Ok(())
    }
}
