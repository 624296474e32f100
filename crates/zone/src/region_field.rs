//! A part of the skin as a signed distance at the vertices and the lines it was measured from.

use mesh::geodesic::{SurfaceLine, contour, distance_to_lines};
use mesh::{Cancelled, Job, Surface};

/// Stands for "far outside" before anything was added.
pub(crate) const FAR_MM: f32 = 1000.0;

/// A region in the making.
#[derive(Debug, Clone)]
pub(crate) struct RegionField {
    /// Positive inside; a true distance where `lines` is set, else only its sign and zero line are right.
    pub(crate) field: Vec<f32>,
    /// The edge, inside on the left.
    pub(crate) lines: Option<Vec<SurfaceLine>>,
}

impl RegionField {
    pub(crate) fn nothing(skin: &Surface) -> Self {
        Self { field: vec![-FAR_MM; skin.mesh().points.len()], lines: None }
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.field.iter().all(|d| *d < 0.0)
    }

    /// Adds what is positive in `other`.
    pub(crate) fn add(&mut self, other: &[f32]) {
        for (d, o) in self.field.iter_mut().zip(other) {
            *d = d.max(*o);
        }
        self.lines = None;
    }

    /// Keeps only what is positive in `other` too; returns whether that took anything away.
    pub(crate) fn keep(&mut self, other: impl Iterator<Item = f32>) -> bool {
        let mut taken = false;
        for (d, o) in self.field.iter_mut().zip(other) {
            taken |= *d >= 0.0 && o < 0.0;
            *d = d.min(o);
        }
        if taken {
            self.lines = None;
        }
        taken
    }

    /// Makes the field a true distance within `reach_mm` of the zero line.
    pub(crate) fn measure(&mut self, skin: &Surface, reach_mm: f32, job: &Job) -> Result<(), Cancelled> {
        let lines = match self.lines.take() {
            Some(lines) => lines,
            None => {
                let found = contour(skin, &self.field, 0.0);
                let sources: Vec<SurfaceLine> = found.iter().flat_map(|c| c.inner_parts()).collect();
                self.set_distance(skin, &sources, reach_mm, job)?;
                // A line that only follows an open end of the limb is no edge of the region.
                let lines = found.into_iter().filter(|c| c.on_border.contains(&false)).map(|c| c.line).collect();
                self.lines = Some(lines);
                return Ok(());
            }
        };
        self.set_distance(skin, &lines, reach_mm, job)?;
        self.lines = Some(lines);
        Ok(())
    }

    fn set_distance(
        &mut self,
        skin: &Surface,
        lines: &[SurfaceLine],
        reach_mm: f32,
        job: &Job,
    ) -> Result<(), Cancelled> {
        let distance = distance_to_lines(skin, lines, reach_mm, job)?;
        for (d, far) in self.field.iter_mut().zip(distance) {
            *d = if *d >= 0.0 { far } else { -far };
        }
        Ok(())
    }

    /// Moves the edge outward by `by_mm`, inward when negative.
    pub(crate) fn grow(&mut self, skin: &Surface, by_mm: f32, job: &Job) -> Result<(), Cancelled> {
        if by_mm == 0.0 {
            return Ok(());
        }
        // A margin of 4 mm keeps both ends of every edge that the new zero line cuts below the reach.
        self.measure(skin, by_mm.abs() + 4.0, job)?;
        for d in &mut self.field {
            *d += by_mm;
        }
        self.lines = None;
        Ok(())
    }

    /// Fills what a disc of `radius_mm` cannot enter from outside.
    pub(crate) fn close(&mut self, skin: &Surface, radius_mm: f32, job: &Job) -> Result<(), Cancelled> {
        self.grow(skin, radius_mm, job)?;
        self.grow(skin, -radius_mm, job)
    }

    /// Takes away what a disc of `radius_mm` cannot reach from inside.
    pub(crate) fn open(&mut self, skin: &Surface, radius_mm: f32, job: &Job) -> Result<(), Cancelled> {
        self.grow(skin, -radius_mm, job)?;
        self.grow(skin, radius_mm, job)
    }
}
