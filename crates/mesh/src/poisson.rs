//! Poisson's equation on part of a surface.
//!
//! Linear elements: the cotangent Laplacian (Pinkall and Polthier 1993) with lumped mass. Where the border runs between
//! two vertices, the edge that it crosses ends on it (Gibou, Fedkiw, Cheng and Kang 2002), so that the solution does not
//! feel how the triangles lie.

use faer::sparse::Triplet;
use nalgebra::SVector;

use crate::cholesky::{Entry, Factors};
use crate::flatten::triangle::Flattened;
use crate::{Cancelled, Job, Mesh};

/// An edge that the border crosses counts as at least this share of its length.
const LEAST_SHARE: f64 = 0.05;
/// A surface without a border is held by this, 1/mm²: no more than a border some metres away.
const HELD_EVERYWHERE: f64 = 1e-7;
/// Triangles between two looks at the cancel flag.
const TRIANGLES_A_LOOK: usize = 16_384;

/// −div(c·∇u) + k·u = q on the part of a mesh that lies inside a border, with u = 0 on the border and no flow across open edges.
pub struct Poisson {
    factors: Factors,
    /// The number of each vertex inside.
    number: Vec<Option<usize>>,
    /// The area that belongs to each vertex, mm².
    mass: Vec<f64>,
}

impl Poisson {
    /// The equation where `inside_mm`, the distance to the border at each vertex, is positive; `conducts` is c at each
    /// vertex, above zero, and `support` k, 1/mm². `None` where nothing is inside or the triangles are too thin.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub fn new(
        mesh: &Mesh,
        inside_mm: &[f32],
        conducts: &[f64],
        support: &[f64],
        job: &Job,
    ) -> Result<Option<Self>, Cancelled> {
        let mut unknowns = 0;
        let number: Vec<Option<usize>> = inside_mm
            .iter()
            .map(|d| {
                let inside = *d > 0.0;
                unknowns += usize::from(inside);
                inside.then(|| unknowns - 1)
            })
            .collect();
        if unknowns == 0 {
            return Ok(None);
        }
        let mut mass = vec![0.0; mesh.points.len()];
        let mut lower: Vec<Entry> = Vec::new();
        for (t, corners) in mesh.triangles.iter().enumerate() {
            if t % TRIANGLES_A_LOOK == 0 {
                job.check()?;
            }
            if corners.iter().all(|v| number[*v as usize].is_none()) {
                continue;
            }
            let third = mesh.cross(t).norm() / 6.0;
            corners.iter().for_each(|v| mass[*v as usize] += third);
            let mean = corners.iter().map(|v| conducts[*v as usize]).sum::<f64>() / 3.0;
            let cotangents = Flattened::new(mesh, t).cotangents();
            for k in 0..3 {
                let (i, j) = (corners[(k + 1) % 3] as usize, corners[(k + 2) % 3] as usize);
                let half = 0.5 * mean * cotangents[k];
                match (number[i], number[j]) {
                    (Some(a), Some(b)) => {
                        lower.extend([Triplet::new(a, a, half), Triplet::new(b, b, half)]);
                        lower.push(Triplet::new(a.max(b), a.min(b), -half));
                    }
                    (Some(a), None) => lower.push(Triplet::new(a, a, half / share(inside_mm[i], inside_mm[j], half))),
                    (None, Some(b)) => lower.push(Triplet::new(b, b, half / share(inside_mm[j], inside_mm[i], half))),
                    (None, None) => {}
                }
            }
        }
        for (v, n) in number.iter().enumerate() {
            let Some(n) = *n else { continue };
            // A vertex without area would leave its row empty.
            let held = (support[v] + HELD_EVERYWHERE) * mass[v];
            lower.push(Triplet::new(n, n, held.max(f64::MIN_POSITIVE)));
        }
        Ok(Factors::of(unknowns, lower, job)?.map(|factors| Self { factors, number, mass }))
    }

    /// u at each vertex for several q at once, given at the vertices; 0 outside. `None` where there is no room to work
    /// in.
    #[must_use]
    pub fn solve<const K: usize>(&self, q: &[SVector<f64, K>]) -> Option<Vec<SVector<f64, K>>> {
        let inside = |v: &usize| self.number[*v].is_some();
        let right: Vec<SVector<f64, K>> = (0..self.number.len()).filter(inside).map(|v| q[v] * self.mass[v]).collect();
        let found = self.factors.solve(&right)?;
        Some(self.number.iter().map(|n| n.map_or_else(SVector::zeros, |n| found[n])).collect())
    }

    /// The area that belongs to each vertex, mm²; 0 well outside.
    #[must_use]
    pub fn mass_mm2(&self) -> &[f64] {
        &self.mass
    }
}

/// The share of an edge that lies inside. A side of a blunt corner keeps its whole length: its weight is below zero, and
/// more of it could leave the system without a solution.
fn share(inside_mm: f32, outside_mm: f32, weight: f64) -> f64 {
    if weight <= 0.0 {
        return 1.0;
    }
    let (inside, outside) = (f64::from(inside_mm), f64::from(outside_mm));
    (inside / (inside - outside)).clamp(LEAST_SHARE, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Point3, Vector1};

    /// A strip 100 mm long of two halves held at both ends: with c = 1 and 4 under an even load of 1 in the left half
    /// only.
    #[test]
    fn a_strip_of_two_parts_shares_its_load_by_hand() {
        let (columns, rows, step) = (120_u32, 8_u32, 1.0_f32);
        let across = columns + 1;
        let points: Vec<Point3<f32>> = (0..across * (rows + 1))
            .map(|n| Point3::new((n % across) as f32 * step - 9.7, (n / across) as f32 * step, 0.0))
            .collect();
        let triangles = (0..columns * rows)
            .flat_map(|n| {
                let a = n / columns * across + n % columns;
                [[a, a + 1, a + across + 1], [a, a + across + 1, a + across]]
            })
            .collect();
        let mesh = Mesh::new(points, triangles);
        let x: Vec<f64> = mesh.points.iter().map(|p| f64::from(p.x)).collect();
        let inside: Vec<f32> = x.iter().map(|x| x.min(100.0 - x) as f32).collect();
        let conducts: Vec<f64> = x.iter().map(|x| if *x < 50.0 { 1.0 } else { 4.0 }).collect();
        let q: Vec<Vector1<f64>> = x.iter().map(|x| Vector1::new(f64::from(u8::from(*x < 50.0)))).collect();
        let poisson = Poisson::new(&mesh, &inside, &conducts, &vec![0.0; x.len()], &Job::silent()).unwrap().unwrap();
        let found = poisson.solve(&q).unwrap();
        // u = s x − x²/2 on the left, (50 − s)(100 − x)/4 on the right; alike in the middle: s = 30 mm.
        for (x, u) in x.iter().zip(&found).filter(|(x, _)| (0.0..100.0).contains(*x)) {
            let exact = if *x < 50.0 { 30.0 * x - 0.5 * x * x } else { 5.0 * (100.0 - x) };
            assert!((u.x - exact).abs() < 0.025 * 450.0, "{x} {} {exact}", u.x);
        }
    }
}
