//! Robust means.

/// The median; 0 without values.
pub(super) fn median(values: impl IntoIterator<Item = f32>) -> f32 {
    let mut sorted: Vec<f32> = values.into_iter().collect();
    let middle = sorted.len() / 2;
    if sorted.is_empty() { 0.0 } else { *sorted.select_nth_unstable_by(middle, f32::total_cmp).1 }
}

/// Gaussian mean along a line of values, open or closed, sigma in values.
pub(super) fn gaussian_mean(values: &[f32], closed: bool, sigma: f32) -> Vec<f32> {
    let n = values.len() as i64;
    let reach = (3.0 * sigma).ceil() as i64;
    (0..n)
        .map(|i| {
            let (mut sum, mut weight) = (0.0, 0.0);
            for k in -reach..=reach {
                let j = i + k;
                if closed || (0..n).contains(&j) {
                    let w = (-0.5 * (k as f32 / sigma).powi(2)).exp();
                    sum += w * values[j.rem_euclid(n) as usize];
                    weight += w;
                }
            }
            sum / weight
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_median_is_the_middle_value() {
        assert_eq!(median([3.0, -1.0, 9.0, 2.0, 100.0]), 3.0);
        assert_eq!(median([]), 0.0);
    }

    #[test]
    fn a_gaussian_mean_keeps_constants_and_the_sum_round_a_closed_line() {
        assert!(gaussian_mean(&[2.0; 9], false, 1.6).iter().all(|x| (x - 2.0).abs() < 1e-6));
        let mut peak = [0.0; 20];
        peak[0] = 1.0;
        let mean = gaussian_mean(&peak, true, 1.0);
        assert!((mean.iter().sum::<f32>() - 1.0).abs() < 1e-5);
        // exp(-1/2) of the peak one sigma away, on both sides of the seam.
        for beside in [mean[1], mean[19]] {
            assert!((beside / mean[0] - (-0.5_f32).exp()).abs() < 1e-5);
        }
    }
}
