//! The surface as it came from the file, to look up what was scanned at a place of the limb.

use mesh::{Bvh, Cancelled, Hit, Job, Mesh};
use nalgebra::Point3;

use crate::Placement;

/// Triangles with a corner farther than this many diagonals of the limb's box from its middle are left out.
const NEAR: f64 = 10.0;

/// The triangles of a scan file near a limb. Wild points, which any file may hold, are left out.
pub(crate) struct ScannedSurface {
    index: Bvh,
    /// The file's number of each triangle of the index; none where they are the same.
    numbers: Option<Vec<u32>>,
}

impl ScannedSurface {
    /// Indexes what lies near `limb` in `scan`; `placement` leads from one to the other.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub fn new(scan: &Mesh, limb: &Mesh, placement: &Placement, job: &Job) -> Result<Self, Cancelled> {
        let (low, high) = limb.bounds().unwrap_or_default();
        let middle = placement.scan_from_limb(&nalgebra::center(&low, &high).cast());
        let reach = NEAR * f64::from((high - low).norm()) / placement.unit_mm;
        // False for NaN as well.
        let near: Vec<bool> = scan.points.iter().map(|p| (p.cast::<f64>() - middle).norm() <= reach).collect();
        if near.iter().all(|near| *near) {
            return Ok(Self { index: Bvh::build(scan, job)?, numbers: None });
        }
        let is_near = |t: &u32| scan.triangles[*t as usize].iter().all(|v| near[*v as usize]);
        let numbers: Vec<u32> = (0..scan.triangles.len() as u32).filter(is_near).collect();
        let triangles = numbers.iter().map(|t| scan.triangles[*t as usize]).collect();
        let near = Mesh::new(scan.points.clone(), triangles);
        Ok(Self { index: Bvh::build(&near, job)?, numbers: Some(numbers) })
    }

    /// The nearest point of the file's surface, in the file's coordinates and numbers. `seed` is where the last search
    /// ended: the nearer to this one, the sooner it is done, with the same answer.
    pub fn nearest(&self, p: &Point3<f32>, seed: &mut Option<u32>) -> Option<Hit> {
        let mut hit = self.index.nearest(p, *seed)?;
        *seed = Some(hit.triangle);
        if let Some(numbers) = &self.numbers {
            hit.triangle = numbers[hit.triangle as usize];
        }
        Some(hit)
    }
}
