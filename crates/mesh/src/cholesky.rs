//! Sparse symmetric systems, solved exactly.

use faer::dyn_stack::{MemBuffer, MemStack, StackReq};
use faer::linalg::cholesky::llt::factor::LltRegularization;
use faer::sparse::linalg::SupernodalThreshold;
use faer::sparse::linalg::cholesky::{
    CholeskySymbolicParams, LltRef, SymbolicCholesky, SymmetricOrdering, factorize_symbolic_cholesky,
};
use faer::sparse::{SparseColMat, Triplet};
use faer::{Conj, Mat, Par, Side};
use nalgebra::SVector;

use crate::{Cancelled, Job};

/// From this many unknowns on, the work gets a thread of its own that can be left behind; fewer take some hundredths of
/// a second.
const STOPPABLE: usize = 4_000;

/// An entry of a matrix, by row and column.
pub(crate) type Entry = Triplet<usize, usize, f64>;

/// Cholesky factors of a positive definite matrix, in a fill-reducing order.
///
/// Plain arithmetic on one thread, so that results are the same to the bit on every processor.
pub(crate) struct Factors {
    symbolic: SymbolicCholesky<usize>,
    values: Vec<f64>,
}

impl Factors {
    /// Factors of a matrix of `n` rows; `None` where it is not positive definite.
    ///
    /// `lower` holds the entries on and below the diagonal; those in one place are added up. It cannot be stopped: a
    /// large matrix goes on for some seconds on a thread that nobody waits for any more.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub(crate) fn of(n: usize, lower: Vec<Entry>, job: &Job) -> Result<Option<Self>, Cancelled> {
        job.check()?;
        if n < STOPPABLE {
            return Ok(Self::new(n, &lower));
        }
        job.aside(move || Self::new(n, &lower))
    }

    fn new(n: usize, lower: &[Entry]) -> Option<Self> {
        let matrix = SparseColMat::<usize, f64>::try_new_from_triplets(n, n, lower).ok()?;
        // Supernodes would be factored by kernels chosen for the processor, whose last digits differ.
        let by_columns = CholeskySymbolicParams {
            supernodal_flop_ratio_threshold: SupernodalThreshold::FORCE_SIMPLICIAL,
            ..Default::default()
        };
        let order = SymmetricOrdering::Amd;
        let symbolic = factorize_symbolic_cholesky(matrix.symbolic(), Side::Lower, order, by_columns).ok()?;
        let mut memory =
            MemBuffer::try_new(symbolic.factorize_numeric_llt_scratch::<f64>(Par::Seq, Default::default())).ok()?;
        let mut values = vec![0.0; symbolic.len_val()];
        symbolic
            .factorize_numeric_llt(
                &mut values,
                matrix.as_ref(),
                Side::Lower,
                LltRegularization::default(),
                Par::Seq,
                MemStack::new(&mut memory),
                Default::default(),
            )
            .ok()?;
        Some(Self { symbolic, values })
    }

    /// The solution for several right sides, one in each component; `None` where there is no room to work in.
    pub(crate) fn solve<const K: usize>(&self, right: &[SVector<f64, K>]) -> Option<Vec<SVector<f64, K>>> {
        let n = right.len();
        let mut memory =
            MemBuffer::try_new(StackReq::any_of(&[self.symbolic.solve_in_place_scratch::<f64>(K, Par::Seq)])).ok()?;
        let mut x = Mat::from_fn(n, K, |row, column| right[row][column]);
        let factors = LltRef::new(&self.symbolic, &self.values);
        factors.solve_in_place_with_conj(Conj::No, x.as_mut(), Par::Seq, MemStack::new(&mut memory));
        Some((0..n).map(|row| SVector::from_fn(|column, _| x[(row, column)])).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Vector3;

    fn solve(lower: Vec<Entry>, right: Vec<Vector3<f64>>, job: &Job) -> Result<Option<Vec<Vector3<f64>>>, Cancelled> {
        Ok(Factors::of(right.len(), lower, job)?.and_then(|factors| factors.solve(&right)))
    }

    /// The second difference on `n` points: x = i(n + 1 − i)/2 solves −x″ = 1 with zero ends.
    fn string(n: usize) -> Vec<Entry> {
        // Each diagonal entry in two parts.
        let mut lower: Vec<Entry> = (0..n).flat_map(|i| [1.5, 0.5].map(|part| Triplet::new(i, i, part))).collect();
        lower.extend((1..n).map(|i| Triplet::new(i, i - 1, -1.0)));
        lower
    }

    #[test]
    fn a_string_under_even_load_hangs_in_a_parabola() {
        for n in [5, 2 * STOPPABLE] {
            let x = solve(string(n), vec![Vector3::new(1.0, 2.0, 0.0); n], &Job::silent()).unwrap().unwrap();
            for (i, x) in (1..=n).map(|i| i as f64).zip(&x) {
                let exact = i * (n as f64 + 1.0 - i) / 2.0;
                assert!((x - Vector3::new(exact, 2.0 * exact, 0.0)).norm() < 1e-7 * exact, "{x} for {exact}");
            }
        }
    }

    #[test]
    fn what_is_not_positive_definite_has_no_solution_and_a_cancelled_job_none_either() {
        for n in [5, 2 * STOPPABLE] {
            let mut lower = string(n);
            lower[0].val = -9.0;
            assert_eq!(solve(lower.clone(), vec![Vector3::x(); n], &Job::silent()), Ok(None));
            let job = Job::silent();
            job.cancel();
            assert_eq!(solve(lower, vec![Vector3::x(); n], &job), Err(Cancelled));
        }
    }
}
