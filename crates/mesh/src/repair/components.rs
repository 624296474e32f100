//! Connected components of a mesh.

use nalgebra::{Matrix3, Point3, Vector3};

use super::weld::drop_unused_points;
use crate::job::Every;
use crate::{Adjacency, Cancelled, Job, Mesh};

/// A connected component: triangles that can be reached from each other over shared edges.
#[derive(Debug, Clone, PartialEq)]
pub struct Component {
    /// Its triangles, in rising order.
    pub triangles: Vec<u32>,
    /// Its area, mm².
    pub area_mm2: f64,
    /// Centroid of its area.
    pub middle: Point3<f64>,
    /// Standard deviation of its area along its principal axes, greatest first, mm: the last is near 0 for a flat one.
    pub spread_mm: [f64; 3],
}

impl Component {
    /// Whether the component is as flat as a table: its thickness is under 2 % of its breadth.
    #[must_use]
    pub fn is_flat(&self) -> bool {
        self.spread_mm[2] < 0.02 * self.spread_mm[1].max(1e-9) + 1e-9
    }
}

/// The connected components of a mesh, the largest by area first.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub fn components(mesh: &Mesh, adjacency: &Adjacency, job: &Job) -> Result<Vec<Component>, Cancelled> {
    job.check()?;
    let (component, count) = adjacency.connected_components();
    job.check()?;
    let mut members: Vec<Vec<u32>> = vec![Vec::new(); count];
    for (t, p) in component.iter().enumerate() {
        members[*p as usize].push(t as u32);
    }
    let mut every = Every::new(job, 1 << 15);
    let mut found: Vec<Component> =
        members.into_iter().map(|triangles| measure(mesh, triangles, &mut every)).collect::<Result<_, _>>()?;
    found.sort_by(|a, b| b.area_mm2.total_cmp(&a.area_mm2).then(a.triangles.cmp(&b.triangles)));
    Ok(found)
}

fn measure(mesh: &Mesh, triangles: Vec<u32>, every: &mut Every<Job>) -> Result<Component, Cancelled> {
    let origin = mesh.corners(triangles[0] as usize)[0].cast::<f64>();
    let (mut area, mut first, mut second) = (0.0, Vector3::zeros(), Matrix3::zeros());
    for t in &triangles {
        every.tick()?;
        let a = 0.5 * mesh.cross(*t as usize).norm();
        let p = mesh.corners(*t as usize).map(|p| p.cast::<f64>() - origin);
        let sum = p[0] + p[1] + p[2];
        area += a;
        first += sum * (a / 3.0);
        // Second moment of a triangle: area / 12 · (Σ p pᵀ + (Σp)(Σp)ᵀ).
        let outer: Matrix3<f64> = p.iter().map(|p| p * p.transpose()).sum();
        second += (outer + sum * sum.transpose()) * (a / 12.0);
    }
    let middle = if area > 0.0 { first / area } else { Vector3::zeros() };
    let spread = if area > 0.0 { second / area - middle * middle.transpose() } else { Matrix3::zeros() };
    let mut axes = spread.symmetric_eigenvalues().map(|x| x.max(0.0).sqrt());
    axes.as_mut_slice().sort_by(|a, b| b.total_cmp(a));
    Ok(Component { triangles, area_mm2: area, middle: origin + middle, spread_mm: axes.into() })
}

/// Keeps the triangles for which `keep` is true, and only the points that they use.
pub fn keep_triangles(mesh: &mut Mesh, keep: &[bool]) {
    let mut keep = keep.iter();
    mesh.triangles.retain(|_| *keep.next().unwrap_or(&true));
    drop_unused_points(mesh);
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_rectangle_has_the_spread_of_a_uniform_distribution() {
        let p = |x: f32, y: f32| Point3::new(x, y, 7.0);
        let mesh = Mesh::new(
            vec![p(0., 0.), p(12., 0.), p(12., 6.), p(0., 6.), p(50., 0.), p(51., 0.), p(50., 1.)],
            vec![[4, 5, 6], [0, 1, 2], [0, 2, 3]],
        );
        let found = components(&mesh, &Adjacency::new(&mesh), &Job::silent()).unwrap();
        assert_eq!(found.len(), 2);
        assert_eq!(found[0].triangles, vec![1, 2]);
        assert_relative_eq!(found[0].area_mm2, 72.0);
        // A uniform distribution of width w has standard deviation w / √12.
        assert_relative_eq!(found[0].spread_mm[0], 12.0 / 12_f64.sqrt(), epsilon = 1e-9);
        assert_relative_eq!(found[0].spread_mm[1], 6.0 / 12_f64.sqrt(), epsilon = 1e-9);
        assert!(found[0].is_flat());
        assert_relative_eq!(found[0].middle, Point3::new(6.0, 3.0, 7.0), epsilon = 1e-9);
    }
}
