//! Filling holes and removing noise.

use mesh::{Adjacency, fair_points, repair};
use nalgebra::Point3;

use super::Cleaning;
use crate::axes::LongAxis;
use crate::ends::{OpenLoop, open_loops};
use crate::report::{FilledHole, count};
use crate::{ScanError, ScanWarning};

/// Reach of the quadrics that even the skin out, as a multiple of the shortest wave that stays.
const REACH_A_WAVE: f32 = 1.25;
/// Evening out moves no point farther than this, mm.
const MOST_ROUGH_MM: f32 = 0.3;
/// Longest sides of triangles, on average, that hold a wave, as a share of its length.
const COARSE: f64 = 0.25;

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

    /// Mean length of the sides of the triangles, mm.
    fn mean_edge_mm(&self) -> f64 {
        let side = |a: u32, b: u32| f64::from((self.mesh.points[a as usize] - self.mesh.points[b as usize]).norm());
        let sum: f64 = self.mesh.triangles.iter().map(|&[a, b, c]| side(a, b) + side(b, c) + side(c, a)).sum();
        sum / (3 * self.mesh.triangles.len()).max(1) as f64
    }

    /// Evens out what is too short to be the limb's own form.
    pub(super) fn even_out(&mut self) -> Result<(), ScanError> {
        let wave_mm = self.settings.roughness_mm;
        // Points that stand farther apart do not hold such waves.
        if wave_mm == 0.0 || self.mean_edge_mm() > COARSE * wave_mm {
            return Ok(());
        }
        self.job.step("evening out the skin", 0.8)?;
        let normals = self.mesh.build_vertex_normals(self.job)?;
        let fair = fair_points(&self.mesh, &normals, REACH_A_WAVE * wave_mm as f32, self.job)?;
        let (mut sum, mut most) = (0.0_f64, 0.0_f64);
        for (p, q) in self.mesh.points.iter_mut().zip(fair) {
            let way = q - *p;
            let length = way.norm();
            let by = length.min(MOST_ROUGH_MM);
            if by > 0.0 {
                *p += way * (by / length);
            }
            sum += f64::from(by).powi(2);
            most = most.max(by.into());
        }
        let moved = (sum / self.mesh.points.len().max(1) as f64).sqrt();
        let text = format!(
            "Waves of the skin shorter than {wave_mm:.0} mm were evened out; points moved {moved:.1} mm on average, {most:.1} mm at \
             most."
        );
        self.say("roughness", most > 0.0, &[("points_moved", self.mesh.points.len())], text);
        Ok(())
    }
}
