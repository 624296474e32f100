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
use super::flow::{AT_BLOW_MM, Flow, GRID_MM, STEP_MM, SURE_MM};
use super::plate::{Plate, Support};
use crate::board::Board;
use crate::pattern::tangent_frame::TangentFrame;

/// The blow is spread over a disc of this radius, mm.
pub const SPREAD_MM: f32 = 10.0;
/// Shares of the load that fall on the blow; the rest falls anywhere. The least of them is taken with which all of it
/// that comes to the ends flows past the blow.
const BLOW_SHARES: [f64; 4] = [0.25, 0.5, 0.75, 1.0];
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

impl Flow {
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
