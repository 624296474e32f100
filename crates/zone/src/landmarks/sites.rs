//! The skin as places a few millimetres apart, with how it curves there at two scales.

use mesh::{Cancelled, Job, Quadrics, SpatialHash, Surface};
use nalgebra::{Point3, Vector3};

/// Reach of the quadrics that follow a bulge.
pub(super) const FINE_MM: f32 = 14.0;
/// Reach of those that follow the limb without it.
const COARSE_MM: f32 = 40.0;
/// Reach of those that only free the skin of noise, to measure heights on.
const EVEN_MM: f32 = 8.0;
/// Sites this near are next to each other: well over their distance, a fifth of the fine reach.
const NEXT_MM: f32 = 4.5;

/// A place on the skin that stands for what lies round it.
#[derive(Debug, Clone, Default)]
pub(super) struct Site {
    pub at: Point3<f32>,
    pub normal: Vector3<f32>,
    pub area_mm2: f32,
    /// Lesser and greater curvature, 1/mm, positive where the skin bulges.
    pub curvatures: [f32; 2],
    /// How much more the lesser curvature is than that of the limb, 1/mm: what a bulge adds to it.
    pub excess: f32,
    /// The same of both curvatures together, 1/mm.
    pub both: f32,
}

/// All of them.
pub(super) struct Sites {
    pub all: Vec<Site>,
    near: SpatialHash,
    even: Quadrics,
}

impl Sites {
    /// The sites of a skin; cancellation is checked every few thousand.
    pub(super) fn new(skin: &Surface, job: &Job) -> Result<Self, Cancelled> {
        let (mesh, normals) = (skin.mesh(), skin.vertex_normals());
        let quadrics = |reach_mm| Quadrics::new(mesh, normals, reach_mm, job);
        let (even, fine, coarse) = (quadrics(EVEN_MM)?, quadrics(FINE_MM)?, quadrics(COARSE_MM)?);
        let all = job.each(fine.samples().len(), |i| {
            let sample = &fine.samples()[i];
            let site =
                Site { at: sample.at, normal: sample.normal, area_mm2: sample.area_mm2 as f32, ..Site::default() };
            let curvatures = |by: &Quadrics| by.at(&sample.at, &sample.normal).map(|q| q.curvatures_per_mm());
            let (Some(here), Some(limb)) = (curvatures(&fine), curvatures(&coarse)) else { return site };
            let excess = [here[0] - limb[0], here[1] - limb[1]];
            Site { curvatures: here, excess: excess[0], both: excess[0] + excess[1], ..site }
        })?;
        let near = SpatialHash::of(2.0 * NEXT_MM, all.iter().map(|site| site.at));
        Ok(Self { all, near, even })
    }

    /// Those within `reach_mm` of a place that face as it does, to within a right angle, by number.
    pub(super) fn within(&self, at: &Point3<f32>, normal: &Vector3<f32>, reach_mm: f32) -> impl Iterator<Item = usize> {
        self.near.within(at, reach_mm).into_iter().filter(|i| self.all[*i].normal.dot(normal) > 0.0)
    }

    /// All that is connected with `start` over sites that `belong`, by number.
    pub(super) fn connected(&self, start: &[usize], belongs: impl Fn(&Site) -> bool) -> Vec<usize> {
        let mut seen = vec![false; self.all.len()];
        let mut found = start.to_vec();
        start.iter().for_each(|i| seen[*i] = true);
        let mut next = 0;
        while let Some(site) = found.get(next).map(|i| &self.all[*i]) {
            next += 1;
            for i in self.within(&site.at, &site.normal, NEXT_MM) {
                if !seen[i] && belongs(&self.all[i]) {
                    seen[i] = true;
                    found.push(i);
                }
            }
        }
        found
    }

    /// The skin point `at` without noise.
    pub(super) fn fair(&self, at: &Point3<f32>, normal: &Vector3<f32>) -> Point3<f32> {
        at + normal * self.even.at(at, normal).map_or(0.0, |quadric| quadric.height_mm)
    }
}
