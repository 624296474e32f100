//! The bi-Laplacian of a mesh and systems with it, solved by conjugate gradients.

use nalgebra::Vector3;
use rayon::prelude::*;

use crate::{Adjacency, Cancelled, Job, Mesh, NONE};

/// How the edges of the Laplacian are weighted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Weights {
    /// All alike: no shape is needed, sliding points towards the middle of their neighbours.
    Uniform,
    /// By cotangents (Pinkall and Polthier 1993): gives the true curvature normal on uneven triangles.
    Cotangent,
}

/// `Lᵀ M⁻¹ L` for the points of a mesh: the energy of a thin plate (Botsch and Kobbelt 2004).
///
/// Rows of open-edge points are left out, so that an edge may end straight (natural boundary).
pub(super) struct Bilaplacian {
    starts: Vec<usize>,
    columns: Vec<u32>,
    weights: Vec<f64>,
    /// Sum of the weights of each row.
    sums: Vec<f64>,
    /// 1 / mass, 0 for rows left out.
    inverse_mass: Vec<f64>,
    /// Diagonal of `Lᵀ M⁻¹ L`.
    diagonal: Vec<f64>,
}

/// Neighbours with their weights, the mass, and whether the point lies on an open edge.
type Row = (Vec<(u32, f64)>, f64, bool);

/// Cotangents are kept within these, so that slivers of a noisy scan cannot rule their neighbours.
const COTANGENT: (f64, f64) = (0.02, 3.0);

impl Bilaplacian {
    pub(super) fn new(mesh: &Mesh, adjacency: &Adjacency, kind: Weights) -> Self {
        let rows: Vec<Row> = (0..mesh.points.len() as u32)
            .into_par_iter()
            .map(|v| {
                let mut row: Vec<(u32, f64)> = Vec::with_capacity(14);
                let (mut mass, mut open) = (0.0, false);
                for t in adjacency.triangles_around(v) {
                    let corners = mesh.triangles[*t as usize];
                    let k = corners.iter().position(|c| *c == v).unwrap_or(0);
                    let [p, q, r] = [0, 1, 2].map(|i| mesh.points[corners[(k + i) % 3] as usize].cast::<f64>());
                    let sides = adjacency.neighbours[*t as usize];
                    open |= sides[k] == NONE || sides[(k + 2) % 3] == NONE;
                    let area2 = (q - p).cross(&(r - p)).norm();
                    mass += area2 / 6.0;
                    let (to_q, to_r) = match kind {
                        Weights::Uniform => (0.5, 0.5),
                        Weights::Cotangent => {
                            let cot = |u: Vector3<f64>, w: Vector3<f64>| {
                                0.5 * (u.dot(&w) / area2.max(1e-12)).clamp(COTANGENT.0, COTANGENT.1)
                            };
                            (cot(p - r, q - r), cot(p - q, r - q))
                        }
                    };
                    row.push((corners[(k + 1) % 3], to_q));
                    row.push((corners[(k + 2) % 3], to_r));
                }
                row.sort_unstable_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
                row.dedup_by(|next, kept| {
                    let same = next.0 == kept.0;
                    if same {
                        kept.1 += next.1;
                    }
                    same
                });
                (row, mass, open)
            })
            .collect();
        let mean = rows.iter().map(|r| r.1).sum::<f64>() / rows.len().max(1) as f64;
        let mut found = Self {
            starts: vec![0],
            columns: Vec::new(),
            weights: Vec::new(),
            sums: Vec::with_capacity(rows.len()),
            inverse_mass: Vec::with_capacity(rows.len()),
            diagonal: Vec::new(),
        };
        for (row, mass, open) in &rows {
            found.columns.extend(row.iter().map(|r| r.0));
            found.weights.extend(row.iter().map(|r| r.1));
            found.starts.push(found.columns.len());
            found.sums.push(row.iter().map(|r| r.1).sum());
            found.inverse_mass.push(match (open, kind) {
                (true, _) => 0.0,
                (false, Weights::Uniform) => 1.0 / row.len().max(1) as f64,
                (false, Weights::Cotangent) => 1.0 / mass.max(0.1 * mean).max(1e-12),
            });
        }
        found.diagonal = (0..rows.len())
            .into_par_iter()
            .map(|v| {
                let own = found.sums[v] * found.sums[v] * found.inverse_mass[v];
                own + found.row(v).map(|(w, x)| x * x * found.inverse_mass[w]).sum::<f64>()
            })
            .collect();
        found
    }

    fn row(&self, v: usize) -> impl Iterator<Item = (usize, f64)> + '_ {
        let span = self.starts[v]..self.starts[v + 1];
        self.columns[span.clone()].iter().map(|c| *c as usize).zip(self.weights[span].iter().copied())
    }

    /// `L x`, weighted by `scale`.
    fn laplacian(&self, x: &[Vector3<f64>], scale: Option<&[f64]>, out: &mut Vec<Vector3<f64>>) {
        (0..x.len())
            .into_par_iter()
            .with_min_len(1024)
            .map(|v| {
                let scale = scale.map_or(1.0, |s| s[v]);
                if scale == 0.0 {
                    return Vector3::zeros();
                }
                let mut sum = x[v] * -self.sums[v];
                for (w, weight) in self.row(v) {
                    sum += x[w] * weight;
                }
                sum * scale
            })
            .collect_into_vec(out);
    }

    /// Minimises `Σ hold·|x − wish|² + stiffness · Σ |Lx|²/M` over the points that are `free`, from `x` on.
    ///
    /// Stops at a relative residual of `tolerance` or after `rounds`.
    pub(super) fn solve(&self, ask: &Ask, x: &mut [Vector3<f64>], job: &Job) -> Result<(), Cancelled> {
        let free = |v: usize| ask.free.is_none_or(|f| f[v]);
        let hold = |v: usize| ask.hold.map_or(0.0, |h| h[v]);
        let n = x.len();
        let (mut half, mut product) = (Vec::with_capacity(n), Vec::with_capacity(n));
        let mut apply = |d: &[Vector3<f64>]| -> Vec<Vector3<f64>> {
            self.laplacian(d, Some(&self.inverse_mass), &mut half);
            self.laplacian(&half, None, &mut product);
            product
                .par_iter()
                .enumerate()
                .with_min_len(1024)
                .map(|(v, k)| if free(v) { k * ask.stiffness + d[v] * hold(v) } else { Vector3::zeros() })
                .collect()
        };
        let precondition = |r: &[Vector3<f64>]| -> Vec<Vector3<f64>> {
            r.par_iter()
                .enumerate()
                .with_min_len(1024)
                .map(|(v, r)| r / (self.diagonal[v] * ask.stiffness + hold(v)).max(1e-30))
                .collect()
        };
        let start = apply(x);
        let mut residual: Vec<Vector3<f64>> = (0..n)
            .map(|v| if free(v) { ask.wish.map_or(Vector3::zeros(), |w| w[v] * hold(v)) - start[v] } else { start[v] })
            .collect();
        let mut z = precondition(&residual);
        let mut direction = z.clone();
        let mut rz = dot(&residual, &z);
        let goal = rz * ask.tolerance * ask.tolerance;
        for round in 0..ask.rounds {
            if rz <= goal || rz <= 1e-300 {
                break;
            }
            if round % 8 == 0 {
                job.check()?;
            }
            let q = apply(&direction);
            let step = rz / dot(&direction, &q).max(1e-300);
            for v in 0..n {
                x[v] += direction[v] * step;
                residual[v] -= q[v] * step;
            }
            z = precondition(&residual);
            let next = dot(&residual, &z);
            let turn = next / rz;
            rz = next;
            for v in 0..n {
                direction[v] = z[v] + direction[v] * turn;
            }
        }
        Ok(())
    }
}

/// What [`Bilaplacian::solve`] is asked.
pub(super) struct Ask<'a> {
    /// How strongly each point is held to its wish; not at all if not given.
    pub hold: Option<&'a [f64]>,
    /// Where points wish to be.
    pub wish: Option<&'a [Vector3<f64>]>,
    /// Weight of the plate's energy.
    pub stiffness: f64,
    /// Points that may move; all if not given.
    pub free: Option<&'a [bool]>,
    /// Relative residual to reach.
    pub tolerance: f64,
    /// Rounds at most.
    pub rounds: usize,
}

/// Summed in fixed blocks, so that the number of threads does not change the last digit.
fn dot(a: &[Vector3<f64>], b: &[Vector3<f64>]) -> f64 {
    let parts: Vec<f64> = a
        .par_chunks(4096)
        .zip(b.par_chunks(4096))
        .map(|(a, b)| a.iter().zip(b).map(|(a, b)| a.dot(b)).sum::<f64>())
        .collect();
    parts.iter().sum()
}
