//! The least squares conformal map.

use faer::sparse::Triplet;
use nalgebra::{SVector, Vector2, distance_squared};

use super::FlattenError;
use super::triangle::Flattened;
use crate::cholesky::{Entry, Factors};
use crate::{Cancelled, Job, Mesh};

/// Triangles between two looks at the cancel flag.
const TRIANGLES_A_LOOK: usize = 16_384;
/// Where thin triangles leave the system without a solution, so much of its diagonal is added to it.
const EASED: f64 = 1e-6;

/// Where each vertex lies, with two far apart on the boundary held at their distance in space, and all scaled to the
/// surface's own area.
pub(super) fn map(
    mesh: &Mesh,
    triangles: &[Flattened],
    loops: &[Vec<u32>],
    job: &Job,
) -> Result<Vec<Vector2<f64>>, FlattenError> {
    let held = far_apart(mesh, loops);
    let between = nalgebra::distance(&mesh.points[held[0] as usize], &mesh.points[held[1] as usize]);
    let ends = [Vector2::zeros(), Vector2::new(f64::from(between), 0.0)];
    let system = System { held, ends, number: free_numbers(mesh.points.len(), held) };
    let (lower, right) = system.entries(mesh, triangles, job)?;
    let unknowns = right.len();
    let eased = |lower: &[Entry]| -> Vec<Entry> {
        let diagonal = lower.iter().filter(|entry| entry.row == entry.col);
        let more = diagonal.map(|entry| Triplet::new(entry.row, entry.col, EASED * entry.val.abs()));
        lower.iter().copied().chain(more).collect()
    };
    let factors = match Factors::of(unknowns, lower.clone(), job)? {
        Some(factors) => Some(factors),
        None => Factors::of(unknowns, eased(&lower), job)?,
    };
    let solved = factors.and_then(|factors| factors.solve(&right)).ok_or(FlattenError::Needles)?;
    let place = |v: u32| system.place(v, &solved);
    let places: Vec<Vector2<f64>> = (0..mesh.points.len() as u32).map(place).collect();
    let own: f64 = mesh.area_mm2();
    let flat: f64 = mesh.triangles.iter().map(|t| area(t.map(|v| places[v as usize]))).sum();
    if !flat.is_finite() || flat <= 0.0 {
        return Err(FlattenError::Needles);
    }
    let scale = (own / flat).sqrt();
    Ok(places.into_iter().map(|place| place * scale).collect())
}

fn area([a, b, c]: [Vector2<f64>; 3]) -> f64 {
    0.5 * (b - a).perp(&(c - a))
}

/// Two vertices of the boundary that are far apart in space.
fn far_apart(mesh: &Mesh, loops: &[Vec<u32>]) -> [u32; 2] {
    let boundary: Vec<u32> = loops.concat();
    let farthest = |from: u32| {
        let away = |v: &u32| distance_squared(&mesh.points[from as usize], &mesh.points[*v as usize]);
        boundary.iter().copied().max_by(|a, b| away(a).total_cmp(&away(b))).unwrap_or(from)
    };
    let one = farthest(boundary[0]);
    [one, farthest(one)]
}

/// The number of each free vertex; those held have none.
fn free_numbers(vertices: usize, held: [u32; 2]) -> Vec<Option<usize>> {
    let mut next = 0;
    (0..vertices as u32)
        .map(|v| {
            let free = !held.contains(&v);
            next += usize::from(free);
            free.then(|| next - 1)
        })
        .collect()
}

/// Dirichlet energy less area, as a quadratic form in the coordinates of all free vertices: x of vertex n is unknown 2n,
/// y is 2n + 1.
struct System {
    held: [u32; 2],
    ends: [Vector2<f64>; 2],
    /// The number of each vertex; those held have none.
    number: Vec<Option<usize>>,
}

impl System {
    fn place(&self, v: u32, solved: &[SVector<f64, 1>]) -> Vector2<f64> {
        match self.number[v as usize] {
            Some(n) => Vector2::new(solved[2 * n].x, solved[2 * n + 1].x),
            None => self.ends[usize::from(v == self.held[1])],
        }
    }

    /// The entries on and below the diagonal, and the right side that comes from the vertices held.
    fn entries(
        &self,
        mesh: &Mesh,
        triangles: &[Flattened],
        job: &Job,
    ) -> Result<(Vec<Entry>, Vec<SVector<f64, 1>>), Cancelled> {
        let unknowns = 2 * self.number.iter().flatten().count();
        let mut lower = Vec::new();
        let mut right = vec![SVector::<f64, 1>::zeros(); unknowns];
        // Adds `value` · a · b to the form, each unknown given by its vertex and axis.
        let mut add = |(v, k): (u32, usize), (w, l): (u32, usize), value: f64| {
            let unknown = |v: u32, k: usize| self.number[v as usize].map(|n| 2 * n + k);
            let end = |v: u32, k: usize| self.ends[usize::from(v == self.held[1])][k];
            match (unknown(v, k), unknown(w, l)) {
                (Some(row), Some(col)) if row >= col => lower.push(Triplet::new(row, col, value)),
                (Some(row), None) => right[row].x -= value * end(w, l),
                _ => {}
            }
        };
        for (t, (corners, own)) in mesh.triangles.iter().zip(triangles).enumerate() {
            if t % TRIANGLES_A_LOOK == 0 {
                job.check()?;
            }
            let cotangents = own.cotangents();
            for k in 0..3 {
                let (i, j) = (corners[(k + 1) % 3], corners[(k + 2) % 3]);
                let half = 0.5 * cotangents[k];
                for axis in 0..2 {
                    add((i, axis), (i, axis), half);
                    add((j, axis), (j, axis), half);
                    add((i, axis), (j, axis), -half);
                    add((j, axis), (i, axis), -half);
                }
                // Twice the area is the sum of x of i times y of j less y of i times x of j over the sides; its second
                // derivatives are ±1/2. What inner sides give cancels against their other triangle.
                for (a, b, sign) in [(i, j, -0.5), (j, i, 0.5)] {
                    add((a, 0), (b, 1), sign);
                    add((b, 1), (a, 0), sign);
                }
            }
        }
        Ok((lower, right))
    }
}
