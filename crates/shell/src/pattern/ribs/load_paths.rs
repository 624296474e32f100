//! The ways by which a plate carries a blow to the rim and the fittings, on the drawing board.
//!
//! The load runs down the slope of the moment sum ([`super::plate`]). The rim and each fitting are divided into parts
//! that take equal shares of it, and from the middle of each part the flow is followed upwards to the blow. Upwards,
//! because flow lines draw together there: those that part late are found as surely as those that part at once.
//! A conformal map keeps flow lines, and the board is nearly one.

use std::collections::HashMap;
use std::f64::consts::TAU;

use mesh::Cancelled;
use nalgebra::{Point2, Vector2};
use zone::Zone;

use super::RibContext;
use super::plate::{Plate, Support};
use crate::board::Board;
use crate::pattern::tangent_frame::TangentFrame;

/// The blow is spread over a disc of this radius, mm.
pub const SPREAD_MM: f32 = 10.0;
/// Shares of the load that fall on the blow; the rest falls anywhere. The least of them is taken with which all of it
/// that comes to the ends flows past the blow.
const BLOW_SHARES: [f64; 4] = [0.25, 0.5, 0.75, 1.0];
/// So far from the blow the paths may come together, mm.
const AT_BLOW_MM: f64 = 12.0;
/// Distance between the points of a path, and of its steps, mm.
pub const STEP_MM: f64 = 1.0;
/// No path is longer than this, mm.
const LONGEST_MM: f64 = 700.0;
/// Distance between the points at which the moment sum is looked up, mm.
const GRID_MM: f64 = 2.0;
/// The moment sum is freed of what is smaller than this, mm: skin is rough, and ribs are not to waver with it.
const FAIR_MM: f64 = 4.0;
/// Nearer to the trim line than this the triangles that it cuts would show, mm.
const SURE_MM: f32 = 1.5;
/// Ends on the rim and at fittings.
const ENDS: std::ops::RangeInclusive<usize> = 4..=24;
/// Most ends at one fitting.
const MOST_AT_A_FITTING: usize = 3;
/// A fitting takes an end from this share of what one end carries.
const LEAST_SHARE: f64 = 0.35;
/// So many steps up from the rim a path may not meet what is cut.
const BEHIND_STEPS: usize = 40;
/// Two ends are at least this share of the spacing apart.
const NEAREST_ENDS: f64 = 0.6;
/// Pairs of fittings may be unlike by this much, and what lies on the middle line may be off it by this much, mm.
const ALIKE_MM: f64 = 6.0;

/// Flow lines from the blow to their ends, in order of direction.
pub struct LoadPaths {
    /// Points [`STEP_MM`] apart on the board; all lines start at the blow.
    pub lines: Vec<Vec<Point2<f64>>>,
    /// For each line its mirror image, where the board and what lies on it are alike on both sides.
    pub image: Option<Vec<usize>>,
}

/// The load paths of a blow on `load`; none where it lies off the board.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn load_paths(
    context: &RibContext<'_>,
    zone: &Zone,
    plate: &Plate<'_>,
    load: &TangentFrame,
    fittings: &[Support],
) -> Result<LoadPaths, Cancelled> {
    let none = LoadPaths { lines: Vec::new(), image: None };
    let Some(mut blow) = context.board.place_of(&load.hit) else { return Ok(none) };
    let places: Vec<(Point2<f64>, f64)> = fittings
        .iter()
        .filter_map(|f| Some((context.board.place_of(&context.skin.nearest(&f.middle, None)?)?, f64::from(f.reach_mm))))
        .collect();
    let paired = |p: &Point2<f64>| places.iter().any(|(other, _)| (Board::mirror(*other) - p).norm() < ALIKE_MM);
    let mirrored = context.board.mirrored && blow.x.abs() < ALIKE_MM && places.iter().all(|(p, _)| paired(p));
    let Some(sums) = plate.moment_sums(&load.point(), SPREAD_MM) else { return Ok(none) };
    if mirrored {
        blow.x = 0.0;
    }
    let mut best: Option<(usize, Vec<Vec<Point2<f64>>>)> = None;
    for share in BLOW_SHARES {
        context.job.check()?;
        let sums: Vec<f32> = sums.iter().map(|m| (share * m.x + (1.0 - share) * m.y) as f32).collect();
        let flow = Flow::new(context, &sums, mirrored);
        let mut lost = 0;
        let mut lines = Vec::new();
        for end in flow.ends(context, zone, plate, blow, &places, mirrored) {
            let Some(line) = flow.path(blow, end) else {
                lost += 1;
                continue;
            };
            if mirrored && end.x != 0.0 {
                lines.push(line.iter().map(|p| Board::mirror(*p)).collect());
            }
            lines.push(line);
        }
        if best.as_ref().is_none_or(|(least, _)| lost < *least) {
            best = Some((lost, lines));
        }
        if lost == 0 {
            break;
        }
    }
    let lines = best.map(|(_, lines)| lines).unwrap_or_default();
    let lines = in_order(lines);
    let image = mirrored.then(|| images(&lines));
    Ok(LoadPaths { lines, image })
}

/// The moment sum on a grid of the board.
struct Flow {
    low: Point2<f64>,
    columns: usize,
    rows: usize,
    /// Not a number off the map.
    sum: Vec<f64>,
}

impl Flow {
    fn new(context: &RibContext<'_>, sums: &[f32], mirrored: bool) -> Self {
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
    fn slope(&self, place: Point2<f64>) -> Option<Vector2<f64>> {
        let along = |way: Vector2<f64>| Some((self.at(place + way)? - self.at(place - way)?) / (2.0 * GRID_MM));
        Some(Vector2::new(along(Vector2::x() * GRID_MM)?, along(Vector2::y() * GRID_MM)?))
    }

    /// Ends on the outline of a fitting, each in the middle of its share of what flows in. `unit` is what one end takes.
    fn ends_at_fitting(&self, middle: Point2<f64>, reach: f64, unit: f64, mirrored: bool) -> Vec<Point2<f64>> {
        const PARTS: usize = 72;
        let way = |k: usize| {
            let angle = TAU * (k % PARTS) as f64 / PARTS as f64;
            Vector2::new(angle.cos(), angle.sin())
        };
        let inflow: Vec<f64> =
            (0..PARTS).map(|k| self.slope(middle + way(k) * reach).map_or(0.0, |s| s.dot(&way(k)).max(0.0))).collect();
        let whole: f64 = inflow.iter().sum();
        let share = whole * TAU * reach / PARTS as f64 / unit;
        if share < LEAST_SHARE || share.is_nan() {
            return Vec::new();
        }
        let count = (share.round() as usize).clamp(1, MOST_AT_A_FITTING);
        if mirrored && middle.x.abs() < ALIKE_MM {
            let mean = (0..PARTS).map(|k| way(k).y * inflow[k]).sum::<f64>();
            return vec![Point2::new(0.0, middle.y + reach * mean.signum())];
        }
        // From where least flows in.
        let start = (0..PARTS).min_by(|a, b| inflow[*a].total_cmp(&inflow[*b])).unwrap_or(0);
        let parts: Vec<(Point2<f64>, f64)> =
            (start..start + PARTS).map(|k| (middle + way(k) * reach, inflow[k % PARTS])).collect();
        in_shares(&parts, count)
    }

    /// The ends of the paths: on the rim and at fittings, each of which is given by its middle and reach. Of a mirrored
    /// board those on its right, and on its middle line.
    fn ends(
        &self,
        context: &RibContext<'_>,
        zone: &Zone,
        plate: &Plate<'_>,
        blow: Point2<f64>,
        fittings: &[(Point2<f64>, f64)],
        mirrored: bool,
    ) -> Vec<Point2<f64>> {
        let (rim, unit) = rim_ends(context, zone, plate, self, mirrored);
        let spacing = f64::from(context.ribs.spacing_mm);
        let mut ends: Vec<Point2<f64>> = Vec::new();
        for (middle, reach) in fittings {
            // One at the blow is no end, and of a pair one is enough.
            if (middle - blow).norm() > 0.5 * spacing + reach && !(mirrored && middle.x < -ALIKE_MM) {
                ends.extend(self.ends_at_fitting(*middle, *reach, unit, mirrored));
            }
        }
        let at_fittings = ends.len();
        for end in rim {
            if ends[..at_fittings].iter().all(|other| (other - end).norm() > NEAREST_ENDS * spacing) {
                ends.push(end);
            }
        }
        ends
    }

    /// Points of the flow line against the flow.
    fn upwards(&self, from: Point2<f64>) -> impl Iterator<Item = Point2<f64>> + '_ {
        let step = |at: &Point2<f64>| {
            let uphill = |p| self.slope(p)?.try_normalize(0.0);
            let middle = at + uphill(*at)? * (0.5 * STEP_MM);
            Some(at + uphill(middle)? * STEP_MM)
        };
        std::iter::successors(step(&from), step).take((LONGEST_MM / STEP_MM) as usize)
    }

    /// The flow line that comes from the blow to an end, from the blow on.
    fn path(&self, blow: Point2<f64>, end: Point2<f64>) -> Option<Vec<Point2<f64>>> {
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

/// Whether load may run through a place.
fn runs(context: &RibContext<'_>, plate: &Plate<'_>, place: Point2<f64>) -> bool {
    context.board.hit(place).is_none_or(|hit| plate.carries(&hit))
}

/// Places on the trim line of equal shares of the load, each in the middle of its part, and how much each takes; of a
/// mirrored board those on its right.
fn rim_ends(
    context: &RibContext<'_>,
    zone: &Zone,
    plate: &Plate<'_>,
    flow: &Flow,
    mirrored: bool,
) -> (Vec<Point2<f64>>, f64) {
    // Nothing ends on the rim behind what is cut.
    let carries = |end: Point2<f64>| flow.upwards(end).take(BEHIND_STEPS).step_by(2).all(|p| runs(context, plate, p));
    let mut chains = Vec::new();
    for chain in chained(context, zone) {
        let mut parts: Vec<(Point2<f64>, f64)> = Vec::new();
        let mut length = 0.0;
        for w in chain.windows(2) {
            let (middle, side) = (nalgebra::center(&w[0], &w[1]), (w[1] - w[0]).norm());
            length += side;
            let slope = flow.slope(middle).filter(|_| carries(middle));
            parts.push((middle, side * slope.map_or(0.0, |s| s.norm())));
        }
        chains.push((parts, length));
    }
    let around: f64 = chains.iter().map(|(_, length)| length).sum();
    let count = ((around / f64::from(context.ribs.spacing_mm)).round() as usize).clamp(*ENDS.start(), *ENDS.end());
    let whole: f64 = chains.iter().flat_map(|(parts, _)| parts).map(|(_, load)| load).sum();
    let unit = whole / count as f64;
    let mut ends = Vec::new();
    for (mut parts, _) in chains {
        // From the top, and on the right of a mirrored board in runs.
        let top = (0..parts.len()).max_by(|a, b| parts[*a].0.y.total_cmp(&parts[*b].0.y)).unwrap_or(0);
        let closed = parts.first().zip(parts.last()).is_some_and(|(a, b)| (a.0 - b.0).norm() < 4.0 * GRID_MM);
        if closed && mirrored {
            let left = (0..parts.len()).find(|n| parts[*n].0.x < 0.0).unwrap_or(0);
            parts.rotate_left(left);
        } else if closed {
            parts.rotate_left(top);
        }
        let same = |a: &(Point2<f64>, f64), b: &(Point2<f64>, f64)| !mirrored || (a.0.x < 0.0) == (b.0.x < 0.0);
        for run in parts.chunk_by(same).filter(|run| !mirrored || run[0].0.x >= 0.0) {
            let load: f64 = run.iter().map(|(_, load)| load).sum();
            ends.extend(in_shares(run, (load / unit).round() as usize));
        }
    }
    (ends, unit)
}

/// The middles of `count` equal shares of a row of places with weights.
fn in_shares(parts: &[(Point2<f64>, f64)], count: usize) -> Vec<Point2<f64>> {
    let whole: f64 = parts.iter().map(|(_, weight)| weight).sum();
    let mut passed = 0.0;
    let mut ends = Vec::new();
    for (place, weight) in parts {
        passed += weight;
        if ends.len() < count && passed >= (ends.len() as f64 + 0.5) / count as f64 * whole {
            ends.push(*place);
        }
    }
    ends
}

/// The trim line on the board as chains of points, without the sides of a seam.
fn chained(context: &RibContext<'_>, zone: &Zone) -> Vec<Vec<Point2<f64>>> {
    let on_rim = |[a, b]: &[Point2<f64>; 2]| {
        let hit = context.board.hit(nalgebra::center(a, b));
        hit.is_none_or(|hit| context.skin.interpolate(context.edge_mm, &hit) < SURE_MM)
    };
    let pieces: Vec<[Point2<f64>; 2]> = context.board.edge(zone).into_iter().filter(on_rim).collect();
    let key = |p: &Point2<f64>| [(p.x * 1e5).round() as i64, (p.y * 1e5).round() as i64];
    let mut at: HashMap<[i64; 2], Vec<usize>> = HashMap::new();
    for (n, piece) in pieces.iter().enumerate() {
        piece.iter().for_each(|p| at.entry(key(p)).or_default().push(n));
    }
    let mut used = vec![false; pieces.len()];
    let mut chains = Vec::new();
    for first in 0..pieces.len() {
        if used[first] {
            continue;
        }
        used[first] = true;
        let mut chain: std::collections::VecDeque<Point2<f64>> = pieces[first].into();
        for forward in [true, false] {
            while let Some(last) = if forward { chain.back() } else { chain.front() } {
                let from = key(last);
                let Some(next) = at[&from].iter().copied().find(|n| !used[*n]) else { break };
                used[next] = true;
                let [a, b] = pieces[next];
                let on = if key(&a) == from { b } else { a };
                if forward { chain.push_back(on) } else { chain.push_front(on) }
            }
        }
        chains.push(chain.into());
    }
    chains
}

/// Points [`STEP_MM`] apart on a line, and its end.
pub fn evenly(line: &[Point2<f64>]) -> Vec<Point2<f64>> {
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

/// Lines in order of direction, counter-clockwise; those that start together in the order in which they part.
fn in_order(mut lines: Vec<Vec<Point2<f64>>>) -> Vec<Vec<Point2<f64>>> {
    const TOGETHER_MM: f64 = 2.0;
    lines.sort_by(|a, b| direction(a).total_cmp(&direction(b)));
    // `b` leaves `a` to the right although it comes after it.
    let swapped = |a: &[Point2<f64>], b: &[Point2<f64>]| {
        let start = (2.0 * AT_BLOW_MM / STEP_MM) as usize;
        let near = |n: usize| (a[n] - b[n]).norm() < TOGETHER_MM;
        let shorter = a.len().min(b.len());
        start + 1 < shorter
            && near(start)
            && (start..shorter).find(|n| !near(*n)).is_some_and(|n| (a[n] - a[n - 1]).perp(&(b[n] - a[n])) < 0.0)
    };
    for _ in 0..lines.len() {
        for n in 1..lines.len() {
            if swapped(&lines[n - 1], &lines[n]) {
                lines.swap(n - 1, n);
            }
        }
    }
    lines
}

/// Direction in which a path leaves the blow, radians.
pub fn direction(line: &[Point2<f64>]) -> f64 {
    let at = line[((2.0 * AT_BLOW_MM / STEP_MM) as usize).min(line.len() - 1)] - line[0];
    at.y.atan2(at.x)
}

/// For each line the one that mirrors it.
fn images(lines: &[Vec<Point2<f64>>]) -> Vec<usize> {
    let unlike = |a: &[Point2<f64>], b: &[Point2<f64>]| {
        let (Some(a), Some(b)) = (a.last(), b.last()) else { return f64::INFINITY };
        (Board::mirror(*a) - b).norm()
    };
    let image = |a: &Vec<Point2<f64>>| {
        (0..lines.len()).min_by(|m, n| unlike(a, &lines[*m]).total_cmp(&unlike(a, &lines[*n]))).unwrap_or(0)
    };
    lines.iter().map(image).collect()
}
