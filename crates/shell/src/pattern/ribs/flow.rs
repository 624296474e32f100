//! The flow of load through a plate, on a grid of the drawing board.

use nalgebra::{Point2, Vector2};

use super::RibContext;

/// So far from the blow the paths may come together, mm.
pub(super) const AT_BLOW_MM: f64 = 12.0;
/// Distance between the points of a path, and of its steps, mm.
pub(super) const STEP_MM: f64 = 1.0;
/// No path is longer than this, mm.
const LONGEST_MM: f64 = 700.0;
/// Distance between the points at which the moment sum is looked up, mm.
pub(super) const GRID_MM: f64 = 2.0;
/// The moment sum is freed of what is smaller than this, mm: skin is rough, and ribs are not to waver with it.
const FAIR_MM: f64 = 4.0;
/// Nearer to the trim line than this the triangles that it cuts would show, mm.
pub(super) const SURE_MM: f32 = 1.5;

/// The moment sum on a grid of the board.
pub(super) struct Flow {
    low: Point2<f64>,
    columns: usize,
    rows: usize,
    /// Not a number off the map.
    sum: Vec<f64>,
}

impl Flow {
    pub(super) fn new(context: &RibContext<'_>, sums: &[f32], mirrored: bool) -> Self {
        let (low, high) = context.board.bounds();
        let half = (low.x.abs().max(high.x.abs()) / GRID_MM).ceil();
        let low = Point2::new(-half * GRID_MM, low.y);
        let (columns, rows) = (2 * half as usize + 1, ((high.y - low.y) / GRID_MM).ceil() as usize + 1);
        let mut flow = Self { low, columns, rows, sum: vec![f64::NAN; columns * rows] };
        let mut edge = vec![f64::NAN; columns * rows];
        for (n, (sum, edge)) in flow.sum.iter_mut().zip(&mut edge).enumerate() {
            let place = low + Vector2::new((n % columns) as f64, (n / columns) as f64) * GRID_MM;
            let Some(hit) = context.board.hit(place) else { continue };
            let inside = context.skin.interpolate(context.edge_mm, &hit);
            *edge = f64::from(inside);
            if inside > SURE_MM {
                *sum = f64::from(context.skin.interpolate(sums, &hit));
            }
        }
        flow.go_on_beyond_the_rim(&edge);
        if mirrored {
            let image = |n: usize| n - n % columns + columns - 1 - n % columns;
            flow.sum = (0..columns * rows)
                .map(|n| {
                    let (own, other) = (flow.sum[n], flow.sum[image(n)]);
                    if own.is_nan() || other.is_nan() { f64::NAN } else { 0.5 * (own + other) }
                })
                .collect();
        }
        flow.make_fair();
        flow
    }

    /// Beyond the rim the moment sum falls on as it does inside: it is the slope times the distance to the trim line.
    fn go_on_beyond_the_rim(&mut self, edge: &[f64]) {
        for _ in 0..(f64::from(zone::map::MARGIN_MM) / GRID_MM) as usize + 2 {
            let known = self.sum.clone();
            let slope = |n: usize| (known[n] / edge[n]).clamp(-1e9, 1e9);
            for n in 0..known.len() {
                if !known[n].is_nan() || edge[n].is_nan() {
                    continue;
                }
                let near: Vec<f64> =
                    self.around(n, 1).filter(|m| !known[*m].is_nan() && edge[*m].abs() > 0.4).map(slope).collect();
                if !near.is_empty() {
                    self.sum[n] = edge[n] * near.iter().sum::<f64>() / near.len() as f64;
                }
            }
        }
    }

    fn make_fair(&mut self) {
        let reach = (1.5 * FAIR_MM / GRID_MM) as usize;
        let known = self.sum.clone();
        for n in (0..known.len()).filter(|n| !known[*n].is_nan()) {
            let (mut weights, mut sum) = (0.0, 0.0);
            // Where one side is missing the other is left out too, or the slope would change.
            for m in self.around(n, reach) {
                let opposite = (2 * n).checked_sub(m).and_then(|o| known.get(o)).is_some_and(|x| !x.is_nan());
                if known[m].is_nan() || !opposite {
                    continue;
                }
                let (dx, dy) = (m % self.columns, m / self.columns);
                let off = Vector2::new(dx as f64 - (n % self.columns) as f64, dy as f64 - (n / self.columns) as f64);
                let weight = (-2.0 * off.norm_squared() * (GRID_MM / FAIR_MM).powi(2)).exp();
                weights += weight;
                sum += weight * known[m];
            }
            self.sum[n] = sum / weights;
        }
    }

    /// Grid points at most `reach` columns and rows from one.
    fn around(&self, n: usize, reach: usize) -> impl Iterator<Item = usize> + use<> {
        let (column, row, columns) = (n % self.columns, n / self.columns, self.columns);
        let rows = row.saturating_sub(reach)..(row + reach + 1).min(self.rows);
        let range = column.saturating_sub(reach)..(column + reach + 1).min(columns);
        rows.flat_map(move |r| range.clone().map(move |c| r * columns + c))
    }

    fn at(&self, place: Point2<f64>) -> Option<f64> {
        let off = (place - self.low) / GRID_MM;
        if off.min() < 0.0 {
            return None;
        }
        let (column, row) = (off.x as usize, off.y as usize);
        if column + 1 >= self.columns || row + 1 >= self.rows {
            return None;
        }
        let (u, v) = (off.x.fract(), off.y.fract());
        let n = row * self.columns + column;
        let across = |n: usize| self.sum[n] * (1.0 - u) + self.sum[n + 1] * u;
        let sum = across(n) * (1.0 - v) + across(n + self.columns) * v;
        (!sum.is_nan()).then_some(sum)
    }

    /// The slope of the moment sum: as much load as runs through each millimetre across it.
    pub(super) fn slope(&self, place: Point2<f64>) -> Option<Vector2<f64>> {
        let along = |way: Vector2<f64>| Some((self.at(place + way)? - self.at(place - way)?) / (2.0 * GRID_MM));
        Some(Vector2::new(along(Vector2::x() * GRID_MM)?, along(Vector2::y() * GRID_MM)?))
    }

    /// Points of the flow line against the flow.
    pub(super) fn upwards(&self, from: Point2<f64>) -> impl Iterator<Item = Point2<f64>> + '_ {
        let step = |at: &Point2<f64>| {
            let uphill = |p| self.slope(p)?.try_normalize(0.0);
            let middle = at + uphill(*at)? * (0.5 * STEP_MM);
            Some(at + uphill(middle)? * STEP_MM)
        };
        std::iter::successors(step(&from), step).take((LONGEST_MM / STEP_MM) as usize)
    }

    /// The flow line that comes from the blow to an end, from the blow on.
    pub(super) fn path(&self, blow: Point2<f64>, end: Point2<f64>) -> Option<Vec<Point2<f64>>> {
        let mut line = vec![end];
        line.extend(self.upwards(end).take_while(|at| (at - blow).norm() >= AT_BLOW_MM));
        let at = line[line.len() - 1];
        // What does not come to the blow is carried from elsewhere.
        if (at - blow).norm() > AT_BLOW_MM + 2.0 * STEP_MM {
            return None;
        }
        line.push(blow);
        line.reverse();
        Some(smooth(&evenly(&line)))
    }
}

/// Points [`STEP_MM`] apart on a line, and its end.
pub(super) fn evenly(line: &[Point2<f64>]) -> Vec<Point2<f64>> {
    let mut points = vec![line[0]];
    let mut left = STEP_MM;
    for w in line.windows(2) {
        let side = (w[1] - w[0]).norm();
        let mut passed = left;
        while passed < side {
            points.push(w[0] + (w[1] - w[0]) * (passed / side));
            passed += STEP_MM;
        }
        left = passed - side;
    }
    if let Some(end) = line.last().filter(|end| points.last().is_none_or(|p| (*end - p).norm() > 0.3 * STEP_MM)) {
        points.push(*end);
    }
    points
}

/// A line freed of what is smaller than some millimetres; its ends stay.
fn smooth(line: &[Point2<f64>]) -> Vec<Point2<f64>> {
    let last = line.len() as i64 - 1;
    let reach = ((2.0 * FAIR_MM / STEP_MM) as i64).min(last);
    // Beyond an end the line goes on as its image in that point.
    let at = |n: i64| match n {
        n if n < 0 => line[0].coords * 2.0 - line[(-n) as usize].coords,
        n if n > last => line[last as usize].coords * 2.0 - line[(2 * last - n) as usize].coords,
        n => line[n as usize].coords,
    };
    let place = |n: i64| {
        let weigh = |k: i64| (-0.5 * (k as f64 * STEP_MM / FAIR_MM).powi(2)).exp();
        let (sum, weights) = (-reach..=reach)
            .fold((Vector2::zeros(), 0.0), |(sum, weights), k| (sum + at(n + k) * weigh(k), weights + weigh(k)));
        Point2::from(sum / weights)
    };
    (0..=last).map(place).collect()
}
