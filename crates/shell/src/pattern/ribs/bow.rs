//! A smooth line near a wanted one, on the right side of what is in its way.

use nalgebra::{DMatrix, DVector};

/// On which side of a bound the line has to run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bound {
    /// At least here.
    From(f64),
    /// At most here.
    UpTo(f64),
}

/// The line leaves its way, and comes back to it, over about this many points.
const REACH: f64 = 7.0;
/// A bound counts as much as this many points of the wanted line.
const FIRM: f64 = 1e4;
/// Less than this pull counts as none.
const LEAST_PULL: f64 = 1e-6;
/// Rounds of finding which bounds hold the line.
const ROUNDS: usize = 40;

/// The line that bends least while staying near `wanted`, within `bounds`: the least squares of second differences and
/// of distances to what is wanted. Bounds that would hold the line back rather than push it are let go, one after the
/// other (the active set method; Nocedal and Wright 2006, "Numerical Optimization", 16.5).
pub fn bow(wanted: &[f64], bounds: &[Option<Bound>]) -> Vec<f64> {
    let count = wanted.len();
    if count < 3 {
        return wanted.to_vec();
    }
    let mut base = DMatrix::<f64>::identity(count, count);
    for i in 1..count - 1 {
        let row = [(i - 1, 1.0), (i, -2.0), (i + 1, 1.0)];
        for (a, x) in row {
            row.iter().for_each(|(b, y)| base[(a, *b)] += REACH.powi(4) * x * y);
        }
    }
    let mut line = wanted.to_vec();
    let mut held = vec![false; count];
    for _ in 0..ROUNDS {
        let mut changed = false;
        for (i, bound) in bounds.iter().enumerate() {
            let broken = match bound {
                Some(Bound::From(least)) => line[i] < *least,
                Some(Bound::UpTo(most)) => line[i] > *most,
                None => false,
            };
            changed |= broken && !held[i];
            held[i] |= broken;
        }
        // The force with which a held bound pushes; of those that pull, the hardest is let go.
        let force = &base * DVector::from_column_slice(&line) - DVector::from_column_slice(wanted);
        let pull = |i: usize| match bounds[i] {
            Some(Bound::From(_)) => -force[i],
            Some(Bound::UpTo(_)) => force[i],
            None => 0.0,
        };
        let hardest = (0..count).filter(|i| held[*i]).max_by(|a, b| pull(*a).total_cmp(&pull(*b)));
        if let Some(i) = hardest.filter(|i| pull(*i) > LEAST_PULL) {
            held[i] = false;
            changed = true;
        }
        if !changed {
            break;
        }
        let (mut system, mut right) = (base.clone(), DVector::from_column_slice(wanted));
        for (i, bound) in bounds.iter().enumerate().filter(|(i, _)| held[*i]) {
            let (Some(Bound::From(at)) | Some(Bound::UpTo(at))) = bound else { continue };
            system[(i, i)] += FIRM * REACH.powi(4);
            right[i] += FIRM * REACH.powi(4) * at;
        }
        let Some(factors) = system.cholesky() else { break };
        line = factors.solve(&right).as_slice().to_vec();
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_bounds_a_straight_line_stays() {
        let wanted: Vec<f64> = (0..40).map(|i| 3.0 + 0.2 * f64::from(i)).collect();
        assert_eq!(bow(&wanted, &[None; 40]), wanted);
    }

    #[test]
    fn bounds_that_narrow_to_both_sides_leave_no_kink() {
        let wanted = vec![8.0; 50];
        // A slot with round ends, in steps as room is looked up.
        let edges = [16.0, 18.5, 18.5, 19.0, 18.5, 18.0, 16.0];
        let bounds: Vec<Option<Bound>> =
            (0..50_usize).map(|i| i.checked_sub(31).and_then(|k| edges.get(k)).map(|at| Bound::From(*at))).collect();
        let line = bow(&wanted, &bounds);
        let broken = (0..50).any(|i| matches!(bounds[i], Some(Bound::From(least)) if line[i] < least - 0.01));
        assert!(!broken, "{line:?}");
        let bend = line.windows(3).map(|w| (w[0] - 2.0 * w[1] + w[2]).abs()).fold(0.0, f64::max);
        assert!(bend < 1.0, "{bend} {line:?}");
        assert!(line[..10].iter().all(|x| (x - 8.0).abs() < 1.5), "{line:?}");
    }

    #[test]
    fn a_bound_is_kept_by_a_smooth_bow() {
        let wanted = vec![10.0; 60];
        let bounds: Vec<Option<Bound>> = (0..60).map(|i| (25..35).contains(&i).then_some(Bound::From(18.0))).collect();
        let line = bow(&wanted, &bounds);
        assert!((25..35).all(|i| line[i] > 18.0 - 1e-2), "{line:?}");
        // Like a spline through the bound it swings a little beyond the wanted line.
        assert!((line[0] - 10.0).abs() < 2.0 && (line[59] - 10.0).abs() < 2.0, "{line:?}");
        let bend = line.windows(3).map(|w| (w[0] - 2.0 * w[1] + w[2]).abs()).fold(0.0, f64::max);
        assert!(bend < 0.4, "{bend}");
        let below: Vec<Option<Bound>> = bounds.iter().map(|b| b.map(|_| Bound::UpTo(2.0))).collect();
        let other = bow(&wanted, &below);
        assert!(line.iter().zip(&other).all(|(a, b)| (a + b - 20.0).abs() < 1e-6));
    }
}
