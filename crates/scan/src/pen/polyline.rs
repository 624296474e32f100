//! Polylines on the skin.

use nalgebra::{Point3, Vector3};

use super::skin_graph::SkinGraph;

/// Distance between the points of a resampled line, mm.
pub(super) const STEP_MM: f32 = 1.0;

/// Points one step apart along a polyline.
pub(super) fn resample(line: &[Point3<f32>], closed: bool) -> Vec<Point3<f32>> {
    let n = line.len();
    if n < 2 {
        return line.to_vec();
    }
    let sides = if closed { n } else { n - 1 };
    let length = |i: usize| (line[(i + 1) % n] - line[i]).norm();
    let total: f32 = (0..sides).map(length).sum();
    let steps = ((total / STEP_MM).round() as usize).max(3);
    let step = total / steps as f32;
    let (mut out, mut side, mut before) = (Vec::with_capacity(steps + 1), 0, 0.0_f32);
    for k in 0..if closed { steps } else { steps + 1 } {
        let target = k as f32 * step;
        while side + 1 < sides && before + length(side) < target {
            before += length(side);
            side += 1;
        }
        let l = length(side);
        let f = if l > 0.0 { ((target - before) / l).clamp(0.0, 1.0) } else { 0.0 };
        out.push(line[side] + (line[(side + 1) % n] - line[side]) * f);
    }
    out
}

/// Moves each point by `share` of the way to the middle of its neighbours.
pub(super) fn smooth(line: &mut [Point3<f32>], closed: bool, share: f32) {
    let n = line.len();
    if n < 3 {
        return;
    }
    let old = line.to_vec();
    for i in 0..n {
        if closed || (i > 0 && i + 1 < n) {
            let middle = nalgebra::center(&old[(i + n - 1) % n], &old[(i + 1) % n]);
            line[i] = old[i] + (middle - old[i]) * share;
        }
    }
}

/// Puts points on the nearest skin, except where there is none under them.
pub(super) fn lay_on_skin(graph: &SkinGraph, line: &mut [Point3<f32>]) {
    let mut seed = None;
    for p in line {
        if let Some(hit) = graph.surface.nearest(p, seed) {
            seed = Some(hit.triangle);
            if !graph.is_unseen(&hit) {
                *p = hit.point;
            }
        }
    }
}

/// Length of an open polyline, mm.
pub(super) fn length(line: &[Point3<f32>]) -> f32 {
    line.windows(2).map(|w| (w[1] - w[0]).norm()).sum()
}

/// Area of a ring seen along its own axis, mm².
pub(super) fn flat_area(ring: &[Point3<f32>]) -> f32 {
    let Some(first) = ring.first() else { return 0.0 };
    let sum: Vector3<f32> = ring.windows(2).map(|w| (w[0] - first).cross(&(w[1] - first))).sum();
    0.5 * sum.norm()
}

/// The lowest and highest coordinates of a line, `margin` farther out.
pub(super) fn bounding_box(line: &[Point3<f32>], margin: f32) -> (Vector3<f32>, Vector3<f32>) {
    let zero = Vector3::zeros();
    let low = line.iter().map(|p| p.coords).reduce(|a, b| a.inf(&b)).unwrap_or(zero);
    let high = line.iter().map(|p| p.coords).reduce(|a, b| a.sup(&b)).unwrap_or(zero);
    (low.add_scalar(-margin), high.add_scalar(margin))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn resampling_a_square_keeps_its_corners_and_spaces_points_a_step_apart() {
        let p = |x: f32, y: f32| Point3::new(x, y, 0.0);
        let square = [p(0., 0.), p(10., 0.), p(10., 10.), p(0., 10.)];
        let line = resample(&square, true);
        assert_eq!(line.len(), 40);
        for i in 0..40 {
            assert_abs_diff_eq!((line[(i + 1) % 40] - line[i]).norm(), 1.0, epsilon = 1e-5);
            assert_abs_diff_eq!(
                line[i],
                square[i / 10] + (square[(i / 10 + 1) % 4] - square[i / 10]) * (i % 10) as f32 / 10.0,
                epsilon = 1e-5
            );
        }
        let open = resample(&square, false);
        assert_eq!(open.len(), 31);
        assert_abs_diff_eq!(length(&open), 30.0, epsilon = 1e-4);
        assert_abs_diff_eq!(open[30], square[3], epsilon = 1e-5);
    }

    #[test]
    fn the_flat_area_of_a_ring_is_that_of_the_polygon() {
        let p = |x: f32, y: f32| Point3::new(x, y, 5.0);
        assert_abs_diff_eq!(flat_area(&[p(0., 0.), p(4., 0.), p(4., 3.), p(0., 3.), p(0., 0.)]), 12.0, epsilon = 1e-5);
    }

    #[test]
    fn smoothing_moves_inner_points_towards_their_neighbours_and_keeps_open_ends() {
        let p = |x: f32, y: f32| Point3::new(x, y, 0.0);
        let mut line = [p(0., 0.), p(1., 2.), p(2., 0.)];
        smooth(&mut line, false, 0.5);
        assert_eq!(line, [p(0., 0.), p(1., 1.), p(2., 0.)]);
    }
}
