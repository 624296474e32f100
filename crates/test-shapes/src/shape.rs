//! Points and triangles, and what tests change about them.

use nalgebra::{Point3, Vector3};

use crate::random::{gauss, seeded};

/// Points and the triangles that index them.
pub type Arrays = (Vec<[f32; 3]>, Vec<[u32; 3]>);

/// A triangle mesh as two plain arrays.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Shape {
    /// Vertex positions, mm.
    pub points: Vec<[f32; 3]>,
    /// Vertex indices of each triangle.
    pub triangles: Vec<[u32; 3]>,
}

impl Shape {
    /// Makes any type that is made from such arrays, as `mesh::Mesh` and `mesh::Surface` are.
    #[must_use]
    pub fn build<T: From<Arrays>>(self) -> T {
        T::from((self.points, self.triangles))
    }

    /// The shape with every point mapped by `place`.
    #[must_use]
    pub fn mapped(mut self, place: impl Fn([f32; 3]) -> [f32; 3]) -> Self {
        self.points.iter_mut().for_each(|p| *p = place(*p));
        self
    }

    /// The shape moved by `by`.
    #[must_use]
    pub fn moved(self, by: [f32; 3]) -> Self {
        self.mapped(|p| [p[0] + by[0], p[1] + by[1], p[2] + by[2]])
    }

    /// The shape made `times` as large about the origin.
    #[must_use]
    pub fn scaled(self, times: f32) -> Self {
        self.mapped(|p| p.map(|x| x * times))
    }

    /// The shape with all triangles facing the other way.
    #[must_use]
    pub fn flipped(mut self) -> Self {
        self.triangles.iter_mut().for_each(|t| t.swap(1, 2));
        self
    }

    /// Both shapes as one, sharing no vertex.
    #[must_use]
    pub fn and(mut self, other: &Self) -> Self {
        let first = self.points.len() as u32;
        self.points.extend(&other.points);
        self.triangles.extend(other.triangles.iter().map(|t| t.map(|v| v + first)));
        self
    }

    /// The shape with each point moved along its normal by Gaussian noise of standard deviation `sigma_mm`.
    #[must_use]
    pub fn noisy(mut self, sigma_mm: f64, seed: u64) -> Self {
        let at = |v: u32| Point3::from(self.points[v as usize]).cast::<f64>();
        let mut normals = vec![Vector3::<f64>::zeros(); self.points.len()];
        for [a, b, c] in &self.triangles {
            let cross = (at(*b) - at(*a)).cross(&(at(*c) - at(*a)));
            [a, b, c].into_iter().for_each(|v| normals[*v as usize] += cross);
        }
        let mut random = seeded(seed);
        for (p, normal) in self.points.iter_mut().zip(&normals) {
            let by = normal.try_normalize(1e-300).unwrap_or_default() * (sigma_mm * gauss(&mut random));
            *p = (Point3::from(*p).cast::<f64>() + by).cast::<f32>().into();
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use crate::{cuboid, icosphere};

    #[test]
    fn shapes_join_without_sharing_vertices() {
        let both = cuboid([1.0; 3]).and(&cuboid([1.0; 3]).moved([5.0, 0.0, 0.0]).flipped());
        assert_eq!((both.points.len(), both.triangles.len()), (16, 24));
        assert_eq!(both.triangles[12..].iter().flatten().min(), Some(&8));
        assert_eq!(both.points[8][0], 5.0);
    }

    /// Standard deviation of the radius, which is normal to a ball.
    #[test]
    fn noise_has_the_standard_deviation_asked_for() {
        let ball = icosphere(40.0, 5).noisy(0.3, 7);
        let off = |p: &[f32; 3]| f64::from((p[0] * p[0] + p[1] * p[1] + p[2] * p[2]).sqrt()) - 40.0;
        let square: f64 = ball.points.iter().map(|p| off(p).powi(2)).sum();
        let deviation = (square / ball.points.len() as f64).sqrt();
        assert!((deviation / 0.3 - 1.0).abs() < 0.03, "{deviation}");
    }
}
