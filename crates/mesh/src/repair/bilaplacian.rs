//! The bi-Laplacian of a mesh and systems with it.
//!
//! A patch over a hole is solved by Cholesky factors: a thin plate is too ill-conditioned for conjugate gradients (27
//! 000 points are still 2 mm off after 3000 rounds). Smoothing a whole scan has half a million unknowns, each held to
//! its own place, and a thousandth of the noise is near enough: some tens of rounds do, where factors would fill
//! gigabytes.

use faer::sparse::Triplet;
use nalgebra::Vector3;
use rayon::prelude::*;

use crate::cholesky::{Entry, Factors};
use crate::job::Every;
use crate::{Adjacency, Cancelled, Job, Mesh, NONE};

/// How the edges of the Laplacian are weighted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Weights {
    /// All alike, whatever the triangles' shape: slides points towards the middle of their neighbours.
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

/// A point's row of the Laplacian: its neighbours with their weights, its mass, and whether it lies on an open edge.
struct Row {
    weights: Vec<(u32, f64)>,
    mass: f64,
    open: bool,
}

/// Cotangents are kept within these, so that slivers of a noisy scan cannot dominate their neighbours.
const COTANGENT: (f64, f64) = (0.02, 3.0);

impl Row {
    fn new(mesh: &Mesh, adjacency: &Adjacency, kind: Weights, v: u32) -> Self {
        let mut row = Self { weights: Vec::with_capacity(14), mass: 0.0, open: false };
        for t in adjacency.triangles_around(v) {
            let corners = mesh.triangles[*t as usize];
            let k = corners.iter().position(|c| *c == v).unwrap_or(0);
            let [p, q, r] = [0, 1, 2].map(|i| mesh.points[corners[(k + i) % 3] as usize].cast::<f64>());
            let sides = adjacency.neighbours[*t as usize];
            row.open |= sides[k] == NONE || sides[(k + 2) % 3] == NONE;
            let area2 = (q - p).cross(&(r - p)).norm();
            row.mass += area2 / 6.0;
            let (to_q, to_r) = match kind {
                Weights::Uniform => (0.5, 0.5),
                Weights::Cotangent => {
                    let cot = |u: Vector3<f64>, w: Vector3<f64>| {
                        0.5 * (u.dot(&w) / area2.max(1e-12)).clamp(COTANGENT.0, COTANGENT.1)
                    };
                    (cot(p - r, q - r), cot(p - q, r - q))
                }
            };
            row.weights.push((corners[(k + 1) % 3], to_q));
            row.weights.push((corners[(k + 2) % 3], to_r));
        }
        row.weights.sort_unstable_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        row.weights.dedup_by(|next, kept| {
            let same = next.0 == kept.0;
            if same {
                kept.1 += next.1;
            }
            same
        });
        row
    }

    fn inverse_mass(&self, kind: Weights, mean: f64) -> f64 {
        match (self.open, kind) {
            (true, _) => 0.0,
            (false, Weights::Uniform) => 1.0 / self.weights.len().max(1) as f64,
            (false, Weights::Cotangent) => 1.0 / self.mass.max(0.1 * mean).max(1e-12),
        }
    }
}

impl Bilaplacian {
    pub(super) fn new(mesh: &Mesh, adjacency: &Adjacency, kind: Weights, job: &Job) -> Result<Self, Cancelled> {
        let blocks: Vec<Vec<Row>> = (0..mesh.points.len().div_ceil(BLOCK))
            .into_par_iter()
            .map(|block| {
                job.check()?;
                let points = block * BLOCK..mesh.points.len().min((block + 1) * BLOCK);
                Ok(points.map(|v| Row::new(mesh, adjacency, kind, v as u32)).collect())
            })
            .collect::<Result<_, _>>()?;
        let rows = || blocks.iter().flatten();
        let count = mesh.points.len();
        let mean = rows().map(|r| r.mass).sum::<f64>() / count.max(1) as f64;
        let mut found = Self {
            starts: vec![0],
            columns: Vec::new(),
            weights: Vec::new(),
            sums: Vec::with_capacity(count),
            inverse_mass: rows().map(|row| row.inverse_mass(kind, mean)).collect(),
            diagonal: Vec::new(),
        };
        for row in rows() {
            found.columns.extend(row.weights.iter().map(|r| r.0));
            found.weights.extend(row.weights.iter().map(|r| r.1));
            found.starts.push(found.columns.len());
            found.sums.push(row.weights.iter().map(|r| r.1).sum());
        }
        job.check()?;
        found.diagonal = (0..count)
            .into_par_iter()
            .map(|v| {
                let own = found.sums[v] * found.sums[v] * found.inverse_mass[v];
                own + found.row(v).map(|(w, x)| x * x * found.inverse_mass[w]).sum::<f64>()
            })
            .collect();
        Ok(found)
    }

    fn row(&self, v: usize) -> impl Iterator<Item = (usize, f64)> + '_ {
        let span = self.starts[v]..self.starts[v + 1];
        self.columns[span.clone()].iter().map(|c| *c as usize).zip(self.weights[span].iter().copied())
    }

    /// `L x`, weighted by `scale`.
    fn laplacian(&self, x: &[Vector3<f64>], scale: Option<&[f64]>, out: &mut Vec<Vector3<f64>>) {
        (0..x.len())
            .into_par_iter()
            .with_min_len(BLOCK)
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

    /// Minimises `Σ |Lx|²/M` over the points that are `free`, the others held where they are.
    ///
    /// By Cholesky factors; by conjugate gradients beyond [`MOST_DIRECT`] free points, where those would fill
    /// gigabytes, and where the system has no single solution.
    pub(super) fn relax(&self, free: &[bool], x: &mut [Vector3<f64>], job: &Job) -> Result<(), Cancelled> {
        const HELD: usize = usize::MAX;
        let mut unknowns = 0;
        let number: Vec<usize> = free
            .iter()
            .map(|free| {
                unknowns += usize::from(*free);
                if *free { unknowns - 1 } else { HELD }
            })
            .collect();
        if unknowns <= MOST_DIRECT {
            let (lower, right) = self.normal_equations(&number, unknowns, x, job)?;
            let factors = Factors::of(unknowns, lower, job)?;
            if let Some(solved) = factors.and_then(|factors| factors.solve(&right)) {
                for (x, number) in x.iter_mut().zip(&number).filter(|(_, number)| **number != HELD) {
                    *x = solved[*number];
                }
                return Ok(());
            }
        }
        let ask = Ask { hold: None, wish: None, stiffness: 1.0, free: Some(free), goal_mm: 1e-7, rounds: 3000 };
        self.solve(&ask, x, job)
    }

    /// The entries on and below the diagonal of the system in the unknowns, and its right side. Points that are held
    /// have a `number` beyond `unknowns`.
    fn normal_equations(
        &self,
        number: &[usize],
        unknowns: usize,
        x: &[Vector3<f64>],
        job: &Job,
    ) -> Result<(Vec<Entry>, Vec<Vector3<f64>>), Cancelled> {
        let mut lower = Vec::new();
        let mut right = vec![Vector3::zeros(); unknowns];
        let mut every = Every::new(job, 1 << 15);
        for v in (0..x.len()).filter(|v| self.inverse_mass[*v] > 0.0) {
            every.tick()?;
            let mass = self.inverse_mass[v];
            let row = || std::iter::once((v, -self.sums[v])).chain(self.row(v));
            let held: Vector3<f64> =
                row().filter(|(w, _)| number[*w] >= unknowns).map(|(w, weight)| x[w] * weight).sum();
            for (a, weight_a) in row().map(|(w, weight)| (number[w], weight)).filter(|(a, _)| *a < unknowns) {
                right[a] -= held * (weight_a * mass);
                for (b, weight_b) in row().map(|(w, weight)| (number[w], weight)).filter(|(b, _)| *b <= a) {
                    lower.push(Triplet::new(a, b, weight_a * weight_b * mass));
                }
            }
        }
        Ok((lower, right))
    }

    /// Minimises `Σ hold·|x − wish|² + stiffness · Σ |Lx|²/M` over the points that are `free`, from `x` on.
    ///
    /// Stops once a step would move the points by less than `goal_mm` (root mean square), or after `rounds`.
    pub(super) fn solve(&self, ask: &Ask, x: &mut [Vector3<f64>], job: &Job) -> Result<(), Cancelled> {
        let free = |v: usize| ask.free.is_none_or(|f| f[v]);
        let hold = |v: usize| ask.hold.map_or(0.0, |h| h[v]);
        let n = x.len();
        let mut half = Vec::with_capacity(n);
        let mut apply = |d: &[Vector3<f64>], out: &mut Vec<Vector3<f64>>| {
            self.laplacian(d, Some(&self.inverse_mass), &mut half);
            self.laplacian(&half, None, out);
            out.par_iter_mut().zip(d).enumerate().with_min_len(BLOCK).for_each(|(v, (k, d))| {
                *k = if free(v) { *k * ask.stiffness + d * hold(v) } else { Vector3::zeros() };
            });
        };
        // Inverse of the diagonal; 0 holds a point where it is.
        let inverse: Vec<f64> = (0..n)
            .map(|v| if free(v) { 1.0 / (self.diagonal[v] * ask.stiffness + hold(v)).max(1e-30) } else { 0.0 })
            .collect();
        let mut q = Vec::with_capacity(n);
        apply(x, &mut q);
        let mut residual: Vec<Vector3<f64>> =
            (0..n)
                .map(|v| {
                    if free(v) {
                        ask.wish.map_or(Vector3::zeros(), |w| w[v] * hold(v)) - q[v]
                    } else {
                        Vector3::zeros()
                    }
                })
                .collect();
        let mut direction: Vec<Vector3<f64>> = residual.iter().zip(&inverse).map(|(r, i)| r * *i).collect();
        let mut rz = dot(&residual, &direction);
        let goal = ask.goal_mm * ask.goal_mm * inverse.iter().filter(|i| **i > 0.0).count() as f64;
        for _ in 0..ask.rounds {
            job.check()?;
            apply(&direction, &mut q);
            let step = rz / dot(&direction, &q).max(1e-300);
            let sums = blocks(x, &mut residual, &direction, &q, &inverse, step);
            let (next, left) = sums.iter().fold((0.0, 0.0), |s, b| (s.0 + b.0, s.1 + b.1));
            // Once it has overflowed, from lengths near the largest `f32`, it never recovers.
            if left <= goal || next <= 1e-300 || !next.is_finite() {
                break;
            }
            let turn = next / rz;
            rz = next;
            direction.par_iter_mut().zip(&residual).zip(&inverse).with_min_len(BLOCK).for_each(|((d, r), i)| {
                *d = r * *i + *d * turn;
            });
        }
        Ok(())
    }
}

/// Free points up to which a plate is solved by Cholesky factors: 0.4 GB.
const MOST_DIRECT: usize = 100_000;
/// Points in one block of work.
const BLOCK: usize = 4096;

/// Takes one step; for each block the products `r·z` and `z·z` after it, where `z` is the preconditioned residual.
fn blocks(
    x: &mut [Vector3<f64>],
    residual: &mut [Vector3<f64>],
    direction: &[Vector3<f64>],
    q: &[Vector3<f64>],
    inverse: &[f64],
    step: f64,
) -> Vec<(f64, f64)> {
    let moves = x.par_chunks_mut(BLOCK).zip(residual.par_chunks_mut(BLOCK));
    let by = direction.par_chunks(BLOCK).zip(q.par_chunks(BLOCK)).zip(inverse.par_chunks(BLOCK));
    moves
        .zip(by)
        .map(|((x, r), ((d, q), inverse))| {
            let (mut rz, mut zz) = (0.0, 0.0);
            for v in 0..x.len() {
                x[v] += d[v] * step;
                r[v] -= q[v] * step;
                let square = r[v].norm_squared();
                rz += square * inverse[v];
                zz += square * inverse[v] * inverse[v];
            }
            (rz, zz)
        })
        .collect()
}

/// The problem given to [`Bilaplacian::solve`].
pub(super) struct Ask<'a> {
    /// How strongly each point is pulled to its wish; not at all if not given.
    pub hold: Option<&'a [f64]>,
    /// The place that each point is pulled to.
    pub wish: Option<&'a [Vector3<f64>]>,
    /// Weight of the plate's energy.
    pub stiffness: f64,
    /// Points that may move; all if not given.
    pub free: Option<&'a [bool]>,
    /// Stop once a step moves the points by less than this, mm (root mean square).
    pub goal_mm: f64,
    /// Most rounds.
    pub rounds: usize,
}

/// Summed in fixed blocks, so that the number of threads does not change the last digit.
fn dot(a: &[Vector3<f64>], b: &[Vector3<f64>]) -> f64 {
    let parts: Vec<f64> = a
        .par_chunks(BLOCK)
        .zip(b.par_chunks(BLOCK))
        .map(|(a, b)| a.iter().zip(b).map(|(a, b)| a.dot(b)).sum::<f64>())
        .collect();
    parts.iter().sum()
}
