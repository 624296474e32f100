//! Many triangles that hold together: assembling, supporting and solving.

use std::sync::Arc;

use faer::linalg::solvers::Solve;
use faer::sparse::linalg::solvers::{Llt, SymbolicLlt};
use faer::sparse::{SparseColMat, Triplet};
use faer::{Mat, Side};
use nalgebra::{Matrix3, Point3, Vector3, Vector6};

use super::facet::{self, Facet};
use super::{OF_TRIANGLE, Section, UNKNOWNS};

/// A shell of flat triangles.
#[derive(Debug, Clone)]
pub struct Structure {
    /// Nodes on the reference surface, mm.
    pub points: Vec<Point3<f64>>,
    /// Their triangles.
    pub triangles: Vec<[u32; 3]>,
    /// The wall in each triangle.
    pub sections: Vec<Section>,
}

/// What one unknown of a node is free to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Hold {
    /// Anything.
    #[default]
    Free,
    /// Nothing: it stays zero.
    Held,
    /// What the same unknown of another node does, which must not follow one itself.
    With(u32),
}

/// A spring that holds a node against moving.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spring {
    /// The node.
    pub node: u32,
    /// N/mm, by displacements along the axes.
    pub stiffness: Matrix3<f64>,
}

impl Spring {
    /// A spring along one direction, a unit vector.
    #[must_use]
    pub fn along(node: u32, direction: &Vector3<f64>, newton_per_mm: f64) -> Self {
        Self { node, stiffness: direction * direction.transpose() * newton_per_mm }
    }
}

/// Why a structure could not be solved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SolveError {
    /// A triangle has no area.
    #[error("triangle {0} has no area")]
    Flat(usize),
    /// Something can move without any force.
    #[error("the structure is not held: a part of it can move freely")]
    Loose,
    /// It takes more memory than there is.
    #[error("there is not enough memory for {0} unknowns")]
    Memory(usize),
}

/// A structure with what holds it but for springs: their stiffness can change without the work of assembling.
///
/// It is factored by kernels that `faer` chooses for the processor: last digits may differ from machine to machine.
#[derive(Debug, Clone)]
pub struct Assembly {
    unknowns: Unknowns,
    /// Entries on and below the diagonal.
    matrix: Arc<SparseColMat<usize, f64>>,
    /// Where the entries of each node's own displacements are, row by row; none above the diagonal.
    own: Arc<[[Option<usize>; 9]]>,
    symbolic: SymbolicLlt<usize>,
    /// The entries count so many times.
    times: f64,
}

/// A structure on its supports and springs, factored.
#[derive(Debug, Clone)]
pub struct System {
    unknowns: Unknowns,
    factors: Llt<usize, f64>,
}

/// The number of each unknown of the nodes among those that are solved for.
#[derive(Debug, Clone)]
struct Unknowns {
    number: Arc<[Option<usize>]>,
    count: usize,
}

impl Structure {
    /// The corners of a triangle.
    #[must_use]
    pub fn corners(&self, t: usize) -> [Point3<f64>; 3] {
        self.triangles[t].map(|v| self.points[v as usize])
    }

    /// What one triangle has of the unknowns of all nodes.
    #[must_use]
    pub fn unknowns_of(&self, t: usize, all: &[Vector6<f64>]) -> facet::Unknowns {
        let corners = self.triangles[t];
        facet::Unknowns::from_fn(|k, _| all[corners[k / UNKNOWNS] as usize][k % UNKNOWNS])
    }

    /// Assembles the structure; `holds` says of each node what its displacements along, and rotations about, the three axes may
    /// do, and is empty where all are free.
    ///
    /// # Errors
    /// [`SolveError`] where a triangle is flat.
    pub fn assembled(&self, holds: &[[Hold; UNKNOWNS]]) -> Result<Assembly, SolveError> {
        let unknowns = Unknowns::new(self.points.len(), holds);
        let count = unknowns.count;
        let mut entries = Vec::with_capacity((OF_TRIANGLE + 1) * OF_TRIANGLE / 2 * self.triangles.len());
        for (t, section) in self.sections.iter().enumerate() {
            let stiffness = Facet::new(self.corners(t)).ok_or(SolveError::Flat(t))?.stiffness(section);
            let corners = self.triangles[t];
            let of = |k: usize| unknowns.number[UNKNOWNS * corners[k / UNKNOWNS] as usize + k % UNKNOWNS];
            for (i, j) in (0..OF_TRIANGLE).flat_map(|i| (0..OF_TRIANGLE).map(move |j| (i, j))) {
                if let (Some(row), Some(column)) = (of(i), of(j))
                    && row >= column
                {
                    entries.push(Triplet::new(row, column, stiffness[(i, j)]));
                }
            }
        }
        let matrix = SparseColMat::<usize, f64>::try_new_from_triplets(count, count, &entries)
            .map_err(|_| SolveError::Memory(count))?;
        let symbolic = SymbolicLlt::try_new(matrix.symbolic(), Side::Lower).map_err(|_| SolveError::Memory(count))?;
        let own = (0..self.points.len()).map(|node| unknowns.own_entries(node, &matrix)).collect();
        Ok(Assembly { unknowns, matrix: Arc::new(matrix), own, symbolic, times: 1.0 })
    }
}

impl Assembly {
    /// The same structure of a material that is so many times as stiff. Nothing is assembled again.
    #[must_use]
    pub fn times(&self, times: f64) -> Self {
        Self { times: self.times * times, ..self.clone() }
    }

    /// Factors it with these springs.
    ///
    /// # Errors
    /// [`SolveError::Loose`] where a part is not held.
    pub fn with(&self, springs: &[Spring]) -> Result<System, SolveError> {
        let mut matrix = SparseColMat::clone(&self.matrix);
        let values = matrix.val_mut();
        values.iter_mut().for_each(|value| *value *= self.times);
        for spring in springs {
            let places = &self.own[spring.node as usize];
            for (k, place) in places.iter().enumerate() {
                if let Some(place) = place {
                    values[*place] += spring.stiffness[(k / 3, k % 3)];
                }
            }
        }
        let factors = Llt::try_new_with_symbolic(self.symbolic.clone(), matrix.as_ref(), Side::Lower)
            .map_err(|_| SolveError::Loose)?;
        Ok(System { unknowns: self.unknowns.clone(), factors })
    }
}

impl Assembly {
    /// The forces and moments that hold the nodes so displaced and rotated, without springs; none on what is held.
    #[must_use]
    pub fn forces(&self, moved: &[Vector6<f64>]) -> Vec<Vector6<f64>> {
        let own = self.unknowns.gathered(moved);
        let mut forces = vec![0.0; self.unknowns.count];
        for column in 0..self.unknowns.count {
            let rows = self.matrix.row_idx_of_col(column);
            for (row, value) in rows.zip(self.matrix.val_of_col(column)) {
                forces[row] += value * own[column];
                if row != column {
                    forces[column] += value * own[row];
                }
            }
        }
        self.unknowns.spread(|row| self.times * forces[row])
    }

    /// The size of forces and moments on all that is not held: the root of the sum of their squares.
    #[must_use]
    pub fn norm(&self, forces: &[Vector6<f64>]) -> f64 {
        let mut sums = vec![0.0; self.unknowns.count];
        for (force, row) in forces.iter().flatten().zip(self.unknowns.number.iter()) {
            if let Some(row) = row {
                sums[*row] += force;
            }
        }
        sums.iter().map(|sum| sum * sum).sum::<f64>().sqrt()
    }
}

impl Unknowns {
    /// Where a matrix has the entries of a node's displacements.
    fn own_entries(&self, node: usize, matrix: &SparseColMat<usize, f64>) -> [Option<usize>; 9] {
        let of = |k: usize| self.number[UNKNOWNS * node + k];
        std::array::from_fn(|k| {
            let (row, column) = (of(k / 3)?, of(k % 3)?);
            let first = matrix.col_ptr()[column];
            let at = matrix.row_idx_of_col_raw(column).binary_search(&row).ok()?;
            (row >= column).then_some(first + at)
        })
    }

    /// The values of what is solved for.
    fn gathered(&self, all: &[Vector6<f64>]) -> Vec<f64> {
        let mut own = vec![0.0; self.count];
        for (value, row) in all.iter().flatten().zip(self.number.iter()) {
            if let Some(row) = row {
                own[*row] = *value;
            }
        }
        own
    }

    /// Values for all nodes by what is solved for; 0 for what is held.
    fn spread(&self, value: impl Fn(usize) -> f64) -> Vec<Vector6<f64>> {
        let of = |k: usize| self.number[k].map_or(0.0, &value);
        (0..self.number.len() / UNKNOWNS).map(|v| Vector6::from_fn(|k, _| of(UNKNOWNS * v + k))).collect()
    }

    fn new(nodes: usize, holds: &[[Hold; UNKNOWNS]]) -> Self {
        let hold = |v: usize, k: usize| holds.get(v).map_or(Hold::Free, |all| all[k]);
        let each = || (0..nodes).flat_map(|v| (0..UNKNOWNS).map(move |k| (v, k)));
        let mut count = 0;
        let mut number: Vec<Option<usize>> = each()
            .map(|(v, k)| {
                (hold(v, k) == Hold::Free).then(|| {
                    count += 1;
                    count - 1
                })
            })
            .collect();
        for (v, k) in each() {
            if let Hold::With(other) = hold(v, k) {
                number[UNKNOWNS * v + k] = number[UNKNOWNS * other as usize + k];
            }
        }
        Self { number: number.into(), count }
    }
}

impl System {
    /// Displacements, mm, and rotations, rad, of all nodes under forces, N, and moments, N·mm, on them.
    #[must_use]
    pub fn under(&self, loads: &[Vector6<f64>]) -> Vec<Vector6<f64>> {
        let [moved] = self.under_each([loads]);
        moved
    }

    /// The same for several loads at once, in less time than one after the other.
    #[must_use]
    pub fn under_each<const N: usize>(&self, loads: [&[Vector6<f64>]; N]) -> [Vec<Vector6<f64>>; N] {
        let Unknowns { number, count } = &self.unknowns;
        let mut right = Mat::zeros(*count, N);
        for (column, loads) in loads.iter().enumerate() {
            for (load, number) in loads.iter().flatten().zip(number.iter()) {
                if let Some(row) = number {
                    right[(*row, column)] += *load;
                }
            }
        }
        self.factors.solve_in_place(&mut right);
        std::array::from_fn(|column| self.unknowns.spread(|row| right[(row, column)]))
    }

    /// How many unknowns are solved for.
    #[must_use]
    pub fn unknowns(&self) -> usize {
        self.unknowns.count
    }
}
