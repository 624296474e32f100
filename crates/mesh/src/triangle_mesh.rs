//! The indexed triangle mesh that all steps pass on.

use nalgebra::{Point3, Vector3};

use crate::job::{Every, Poll, Unstoppable};
use crate::{Cancelled, Job};

/// Points, triangles that index them (counter-clockwise seen from outside), and a colour for each point where the scan
/// had colours. Lengths are millimetres once the unit of a scan is known.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Mesh {
    /// Vertex positions.
    pub points: Vec<Point3<f32>>,
    /// Vertex indices of each triangle.
    pub triangles: Vec<[u32; 3]>,
    /// sRGB colour of each point, the same length as `points`.
    pub colours: Option<Vec<[u8; 3]>>,
}

/// Points and triangles as plain arrays, without colours.
impl From<(Vec<[f32; 3]>, Vec<[u32; 3]>)> for Mesh {
    fn from((points, triangles): (Vec<[f32; 3]>, Vec<[u32; 3]>)) -> Self {
        Self::new(points.into_iter().map(Point3::from).collect(), triangles)
    }
}

impl Mesh {
    /// A mesh without colours.
    #[must_use]
    pub fn new(points: Vec<Point3<f32>>, triangles: Vec<[u32; 3]>) -> Self {
        Self { points, triangles, colours: None }
    }

    /// The three corners of triangle `t`.
    #[must_use]
    pub fn corners(&self, t: usize) -> [Point3<f32>; 3] {
        self.triangles[t].map(|v| self.points[v as usize])
    }

    /// Twice the area of triangle `t` along its normal, in f64.
    #[must_use]
    pub fn cross(&self, t: usize) -> Vector3<f64> {
        let [a, b, c] = self.corners(t).map(|p| p.cast::<f64>());
        (b - a).cross(&(c - a))
    }

    /// Unit normal of triangle `t`; zero for a triangle without area.
    #[must_use]
    pub fn triangle_normal(&self, t: usize) -> Vector3<f32> {
        self.cross(t).try_normalize(1e-300).unwrap_or_default().cast()
    }

    /// Total area, mm².
    #[must_use]
    pub fn area_mm2(&self) -> f64 {
        (0..self.triangles.len()).map(|t| 0.5 * self.cross(t).norm()).sum()
    }

    /// Enclosed volume by the divergence theorem, mm³: positive when closed and facing outward.
    #[must_use]
    pub fn volume_mm3(&self) -> f64 {
        // Measured from the middle of the box so that far-away meshes keep their digits.
        let centre = self.bounds().map_or(Point3::origin(), |(lo, hi)| nalgebra::center(&lo, &hi)).cast::<f64>();
        (0..self.triangles.len())
            .map(|t| {
                let [a, b, c] = self.corners(t).map(|p| p.cast::<f64>() - centre);
                a.dot(&b.cross(&c)) / 6.0
            })
            .sum()
    }

    /// Lowest and highest corner of the box around all points; `None` without points.
    #[must_use]
    pub fn bounds(&self) -> Option<(Point3<f32>, Point3<f32>)> {
        let first = *self.points.first()?;
        Some(self.points.iter().fold((first, first), |(lo, hi), p| (lo.inf(p), hi.sup(p))))
    }

    /// Unit vertex normals, weighted by the angle each triangle has at the vertex
    /// (Thürrner and Wüthrich 1998); zero where no triangle with area meets.
    #[must_use]
    pub fn vertex_normals(&self) -> Vec<Vector3<f32>> {
        let Ok(normals) = self.polled_normals(&Unstoppable);
        normals
    }

    /// As [`Mesh::vertex_normals`].
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub fn build_vertex_normals(&self, job: &Job) -> Result<Vec<Vector3<f32>>, Cancelled> {
        self.polled_normals(job)
    }

    /// Unit vertex normals for drawing, weighted by the area of the triangles; zero where no triangle with area meets. The
    /// slivers that simplifying leaves along an edge face anywhere: by area they do not sway their neighbours.
    ///
    #[must_use]
    pub fn shading_normals(&self) -> Vec<Vector3<f32>> {
        let Ok(normals) = self.polled_shading_normals(&Unstoppable);
        normals
    }

    /// As [`Mesh::shading_normals`].
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub fn build_shading_normals(&self, job: &Job) -> Result<Vec<Vector3<f32>>, Cancelled> {
        self.polled_shading_normals(job)
    }

    fn polled_shading_normals<P: Poll>(&self, poll: &P) -> Result<Vec<Vector3<f32>>, P::Stop> {
        let mut sums = vec![Vector3::<f64>::zeros(); self.points.len()];
        let mut every = Every::new(poll, 1 << 14);
        for (t, corners) in self.triangles.iter().enumerate() {
            every.tick()?;
            let cross = self.cross(t);
            for v in corners {
                sums[*v as usize] += cross;
            }
        }
        Ok(sums.into_iter().map(unit).collect())
    }

    fn polled_normals<P: Poll>(&self, poll: &P) -> Result<Vec<Vector3<f32>>, P::Stop> {
        let mut sums = vec![Vector3::<f64>::zeros(); self.points.len()];
        let mut every = Every::new(poll, 1 << 14);
        for (t, corners) in self.triangles.iter().enumerate() {
            every.tick()?;
            let Some(normal) = self.cross(t).try_normalize(1e-300) else { continue };
            for k in 0..3 {
                sums[corners[k] as usize] += normal * self.angle_at(t, k);
            }
        }
        Ok(sums.into_iter().map(unit).collect())
    }

    /// The normal that [`Mesh::vertex_normals`] has at `v`, from the triangles that use it.
    pub(crate) fn vertex_normal(&self, v: u32, around: &[u32]) -> Vector3<f32> {
        let mut sum = Vector3::zeros();
        for &t in around {
            let t = t as usize;
            let Some(normal) = self.cross(t).try_normalize(1e-300) else { continue };
            let Some(k) = self.triangles[t].iter().position(|c| *c == v) else { continue };
            sum += normal * self.angle_at(t, k);
        }
        unit(sum)
    }

    /// Angle of triangle `t` at its corner `k`, radians.
    pub(crate) fn angle_at(&self, t: usize, k: usize) -> f64 {
        let p = self.corners(t).map(|p| p.cast::<f64>());
        (p[(k + 1) % 3] - p[k]).angle(&(p[(k + 2) % 3] - p[k]))
    }
}

fn unit(sum: Vector3<f64>) -> Vector3<f32> {
    sum.try_normalize(1e-12).unwrap_or_default().cast()
}
