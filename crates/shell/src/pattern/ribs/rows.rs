//! Ribs in rows on the drawing board, from rim to rim: along the limb they draw together as the guard narrows, around
//! it they bend with its edges, and they pass what is in their way in one bow.

use mesh::{Cancelled, Hit};
use nalgebra::Point2;

use super::RibContext;
use super::bow::{Bound, bow};
use crate::board::Board;
use crate::limits::least_rib_spacing_mm;
use crate::pattern::TangentFrame;
use crate::pattern::free_space::{FAR_MM, FreeSpace};

/// Which way rows run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Along the limb.
    Along,
    /// Around the limb.
    Around,
}

/// Rows that have room, and how many have none.
#[derive(Debug, Default)]
pub struct Rows {
    /// Their lines, from rim to rim.
    pub lines: Vec<Vec<TangentFrame>>,
    /// How many found no way.
    pub lost: usize,
}

/// Distance between the points of a row, mm.
const STEP_MM: f64 = 2.0;
/// Room is looked for in steps of this, mm.
const LOOK_MM: f64 = 0.5;
/// A row goes aside by this much at most, mm.
const MOST_ASIDE_MM: f64 = 45.0;
/// Rows draw together to this share of their spacing at most.
const NARROWEST: f64 = 0.4;
/// The middle part of the guard's length whose sides the rows follow; its round ends are not followed.
const FOLLOWED: f64 = 0.6;
/// Points of a row beyond the zone, each way.
const BEYOND: i32 = 3;
/// Rounds of moving a bow off what it still meets.
const ROUNDS: usize = 8;
/// A row may reach this far into what is in its way, mm: what smoothing leaves.
const UNSURE_MM: f32 = 0.4;
/// Rows end this far inside the trim line, mm.
const END_MM: f32 = 0.3;

/// All rows with room for their middle lines in `clear`, which knows of what they have to keep off, but not of the rim.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn rows(context: &RibContext<'_>, direction: Direction, clear: &FreeSpace) -> Result<Rows, Cancelled> {
    let sheet = Sheet { context, direction, clear };
    let Some(frame) = sheet.frame() else { return Ok(Rows::default()) };
    let mirrored = context.board.mirrored && direction == Direction::Along;
    let mut found = Rows::default();
    let places = sheet.places(&frame);
    for side in [1.0, -1.0] {
        if mirrored && side < 0.0 {
            break;
        }
        // From the middle outwards, so that each row keeps off the one before.
        let mut before: Option<Vec<Option<f64>>> = None;
        for place in places.iter().copied().filter(|u| if side > 0.0 { *u >= 0.0 } else { *u < 0.0 }) {
            context.job.check()?;
            let Some(row) = sheet.row(&frame, place, side, before.as_deref()) else {
                found.lost += if mirrored && place > 0.0 { 2 } else { 1 };
                continue;
            };
            let images: &[f64] = if mirrored && place > 0.0 { &[1.0, -1.0] } else { &[1.0] };
            for image in images {
                let line = sheet.line(&frame, &row, *image);
                if line.len() > 1 { found.lines.push(line) } else { found.lost += 1 }
            }
            before = Some(row);
        }
    }
    Ok(found)
}

/// The board as rows see it: `s` runs with them, `t` across.
struct Sheet<'a> {
    context: &'a RibContext<'a>,
    direction: Direction,
    clear: &'a FreeSpace,
}

/// Where rows can run: at the points of `s` the middle and half the width of the zone.
struct Frame {
    s: Vec<f64>,
    middle: Vec<f64>,
    half: Vec<f64>,
    /// Half the width where it is widest.
    widest: f64,
}

impl Sheet<'_> {
    fn place(&self, s: f64, t: f64) -> Point2<f64> {
        match self.direction {
            Direction::Along => Point2::new(t, s),
            Direction::Around => self.context.board.curves.bent(Point2::new(s, t)),
        }
    }

    fn hit(&self, s: f64, t: f64) -> Option<Hit> {
        self.context.board.hit(self.place(s, t))
    }

    /// Distance to the trim line, negative outside and off the map.
    fn edge(&self, s: f64, t: f64) -> f32 {
        self.hit(s, t).map_or(-FAR_MM, |hit| self.context.skin.interpolate(self.context.edge_mm, &hit))
    }

    /// Room beside what is in the way, the lesser of both sides of a mirrored board.
    fn room(&self, s: f64, t: f64) -> f32 {
        let at = |place| {
            let frame = self.context.board.site(place).map(|site| site.frame);
            frame.map_or(FAR_MM, |frame| self.clear.at(self.context.skin, &frame))
        };
        let place = self.place(s, t);
        if self.context.board.mirrored { at(place).min(at(Board::mirror(place))) } else { at(place) }
    }

    fn frame(&self) -> Option<Frame> {
        let (low, high) = self.context.board.bounds();
        let (s_range, t_range) = match self.direction {
            Direction::Along => ([low.y, high.y], [low.x, high.x]),
            Direction::Around => ([low.x, high.x], [low.y, high.y]),
        };
        // A mirrored board has a point on its middle line.
        let first = (s_range[0] / STEP_MM).ceil() as i64;
        let last = (s_range[1] / STEP_MM).floor() as i64;
        let mut found: Vec<[f64; 3]> = Vec::new();
        for s in (first..=last).map(|k| k as f64 * STEP_MM) {
            let steps = (t_range[1] - t_range[0]).ceil() as usize;
            let inside: Vec<f64> =
                (0..=steps).map(|k| t_range[0] + k as f64).filter(|t| self.edge(s, *t) > 0.0).collect();
            let run = inside.chunk_by(|a, b| b - a < 1.5).max_by_key(|run| run.len());
            if let Some([from, .., to]) = run {
                found.push([s, *from, *to]);
            }
        }
        let (first, last) = (found.first()?[0], found.last()?[0]);
        // Straight lines through the sides of the middle part.
        let inner: Vec<[f64; 3]> = found
            .iter()
            .copied()
            .filter(|[s, ..]| (s - 0.5 * (first + last)).abs() <= 0.5 * FOLLOWED * (last - first) + 1e-9)
            .collect();
        let through = |k: usize| -> (f64, f64) {
            let count = inner.len() as f64;
            let [s, t] = [0, k].map(|k| inner.iter().map(|p| p[k]).sum::<f64>() / count);
            let (ss, st) =
                inner.iter().fold((0.0, 0.0), |(ss, st), p| (ss + (p[0] - s).powi(2), st + (p[0] - s) * (p[k] - t)));
            let slope = if ss > 0.0 { st / ss } else { 0.0 };
            (t - slope * s, slope)
        };
        let sides = [through(1), through(2)];
        let at = |(from, slope): (f64, f64), s: f64| from + slope * s;
        let straight = self.direction == Direction::Around;
        let own = |s: f64| -> [f64; 2] {
            let [low, high] = if straight {
                // Rows around the limb are parallel; between the ends of the middle column.
                found.iter().min_by(|a, b| a[0].abs().total_cmp(&b[0].abs())).map_or([0.0; 2], |m| [m[1], m[2]])
            } else {
                sides.map(|side| at(side, s))
            };
            let middle = if self.context.board.mirrored && !straight { 0.0 } else { 0.5 * (low + high) };
            [middle, 0.5 * (high - low)]
        };
        // Beyond the ends too, where rows come to the trim line.
        let beyond = |s: f64, way: f64| (1..=BEYOND).map(move |k| s + way * f64::from(k) * STEP_MM);
        let mut s: Vec<f64> = beyond(first, -1.0).collect();
        s.reverse();
        s.extend(found.iter().map(|f| f[0]));
        s.extend(beyond(last, 1.0));
        let all: Vec<[f64; 2]> = s.iter().map(|s| own(*s)).collect();
        let widest = inner.iter().map(|[s, ..]| own(*s)[1]).fold(0.0, f64::max);
        Some(Frame { s, middle: all.iter().map(|m| m[0]).collect(), half: all.iter().map(|m| m[1]).collect(), widest })
    }

    /// Places of the rows across the widest part, from the middle outwards: with one in the middle or without, as more
    /// have room, but none in the middle where something lies there.
    fn places(&self, frame: &Frame) -> Vec<f64> {
        let spacing = f64::from(self.context.ribs.spacing_mm);
        let half = frame.widest - f64::from(self.context.rim_margin_mm);
        let with = |first: f64| -> Vec<f64> {
            let right = (0..).map(|k| first + k as f64 * spacing).take_while(|u| *u <= half);
            let mut all: Vec<f64> = right.flat_map(|u| if u > 0.0 { vec![u, -u] } else { vec![u] }).collect();
            all.sort_by(|a, b| a.abs().total_cmp(&b.abs()).then(b.total_cmp(a)));
            all
        };
        let (odd, even) = (with(0.0), with(0.5 * spacing));
        let blocked = (0..frame.s.len())
            .any(|i| self.edge(frame.s[i], frame.middle[i]) > 0.0 && self.room(frame.s[i], frame.middle[i]) < 0.0);
        if blocked && even.is_empty() && half > 0.0 {
            // Too narrow for two at this spacing, but something in the way of one.
            return vec![0.6 * half, -0.6 * half];
        }
        if even.len() > odd.len() || blocked { even } else { odd }
    }

    /// The row at `place`, as `t` for each point of `s`; `None` where it finds no way. `side` is where it goes if it may
    /// choose, and `before` the row next to it on the other side.
    fn row(&self, frame: &Frame, place: f64, side: f64, before: Option<&[Option<f64>]>) -> Option<Vec<Option<f64>>> {
        let least = f64::from(least_rib_spacing_mm(self.context.ribs));
        let squeeze = |i: usize| {
            if frame.widest > 0.0 { (frame.half[i] / frame.widest).clamp(NARROWEST, 1.5) } else { 1.0 }
        };
        let wanted: Vec<f64> = (0..frame.s.len()).map(|i| frame.middle[i] + place * squeeze(i)).collect();
        // The longest run inside the zone.
        let inside: Vec<usize> = (0..wanted.len()).filter(|i| self.edge(frame.s[*i], wanted[*i]) > 0.0).collect();
        let run = inside.chunk_by(|a, b| b - a == 1).max_by_key(|run| run.len())?;
        let (first, last) = (*run.first()?, *run.last()?);
        let span = first.saturating_sub(6)..(last + 7).min(wanted.len());
        let own: Vec<f64> = wanted[span.clone()].to_vec();
        let mut bounds: Vec<Option<Bound>> = vec![None; own.len()];
        let next = |i: usize| before.and_then(|row| row[span.start + i]);
        for (i, bound) in bounds.iter_mut().enumerate() {
            if let Some(other) = next(i) {
                *bound = Some(if side > 0.0 { Bound::From(other + least) } else { Bound::UpTo(other - least) });
            }
        }
        let mut line = bow(&own, &bounds);
        for _ in 0..ROUNDS {
            let meets: Vec<usize> = (0..line.len())
                .filter(|i| self.edge(frame.s[span.start + i], line[*i]) > 0.0)
                .filter(|i| self.room(frame.s[span.start + i], line[*i]) < 0.0)
                .collect();
            if meets.is_empty() {
                break;
            }
            for stretch in meets.chunk_by(|a, b| b - a <= 3) {
                self.pass(frame, span.start, stretch, &own, &line, [place, side], &mut bounds);
            }
            line = bow(&own, &bounds);
        }
        let fits = (0..line.len()).all(|i| {
            let s = frame.s[span.start + i];
            self.edge(s, line[i]) <= 0.0 || self.room(s, line[i]) >= -UNSURE_MM
        });
        let apart = (0..line.len()).all(|i| next(i).is_none_or(|t| (line[i] - t) * side >= 0.9 * least));
        if !fits || !apart {
            return None;
        }
        let mut row = vec![None; wanted.len()];
        line.into_iter().enumerate().for_each(|(i, t)| row[span.start + i] = Some(t));
        Some(row)
    }

    /// Bounds a stretch of a row to one side of what it meets: the side that is nearer, but never over the middle line of
    /// a mirrored board.
    #[allow(clippy::too_many_arguments)]
    fn pass(
        &self,
        frame: &Frame,
        start: usize,
        stretch: &[usize],
        own: &[f64],
        line: &[f64],
        [place, side]: [f64; 2],
        bounds: &mut [Option<Bound>],
    ) {
        let mirrored = self.context.board.mirrored && self.direction == Direction::Along;
        let way = |towards: f64| -> Option<Vec<f64>> {
            stretch
                .iter()
                .map(|i| {
                    let s = frame.s[start + i];
                    let steps = (MOST_ASIDE_MM / LOOK_MM) as usize;
                    let free = (0..=steps)
                        .map(|k| line[*i] + towards * k as f64 * LOOK_MM)
                        .find(|t| self.edge(s, *t) < 0.0 || self.room(s, *t) >= 0.0)?;
                    let kept = self.edge(s, free) > 0.0 && !(mirrored && free * place < 0.0);
                    (kept || self.edge(s, own[*i]) < self.context.rim_margin_mm).then_some(free)
                })
                .collect()
        };
        let cost = |free: &Vec<f64>| free.iter().zip(stretch).map(|(t, i)| (t - own[*i]).abs()).fold(0.0, f64::max);
        let ways = [(side, way(side)), (-side, way(-side))];
        let best = ways
            .into_iter()
            .filter_map(|(towards, free)| free.map(|free| (cost(&free), towards, free)))
            .reduce(|a, b| if b.0 < a.0 - 1e-9 { b } else { a });
        let Some((_, towards, free)) = best else { return };
        for (i, t) in stretch.iter().zip(free) {
            bounds[*i] = Some(if towards > 0.0 { Bound::From(t) } else { Bound::UpTo(t) });
        }
    }

    /// The points of a row on the skin, as far as it is covered; a row round a closed zone meets itself.
    fn line(&self, frame: &Frame, row: &[Option<f64>], image: f64) -> Vec<TangentFrame> {
        let place = |s: f64, t: f64| {
            let place = self.place(s, t);
            Point2::new(place.x * image, place.y)
        };
        let at = |s: f64, t: f64| -> Option<TangentFrame> {
            let site = self.context.board.site(place(s, t))?;
            let edge = self.context.skin.interpolate(self.context.edge_mm, &site.frame.hit);
            (edge > END_MM).then_some(site.frame)
        };
        let ends: Vec<[f64; 2]> = frame.s.iter().zip(row).filter_map(|(s, t)| t.map(|t| [*s, t])).collect();
        let mut parts: Vec<Vec<TangentFrame>> = vec![Vec::new()];
        for (i, [s, t]) in ends.iter().enumerate() {
            match at(*s, *t) {
                Some(found) => {
                    // Just inside the trim line, where the row comes in.
                    if parts.last().is_some_and(Vec::is_empty) && i > 0 {
                        parts.last_mut().into_iter().for_each(|p| p.extend(between(&at, [*s, *t], ends[i - 1])));
                    }
                    parts.last_mut().into_iter().for_each(|p| p.push(found));
                }
                None if parts.last().is_some_and(|p| !p.is_empty()) => {
                    parts.last_mut().into_iter().for_each(|p| p.extend(between(&at, ends[i - 1], [*s, *t])));
                    parts.push(Vec::new());
                }
                None => {}
            }
        }
        let mut line = parts.into_iter().max_by_key(Vec::len).unwrap_or_default();
        if let [first, .., last] = &line[..]
            && line.len() > 10
            && (first.point() - last.point()).norm() < 3.0 * STEP_MM as f32
        {
            line.push(*first);
        }
        line
    }
}

/// The last place on the way from inside to outside that is still inside.
fn between(
    at: &impl Fn(f64, f64) -> Option<TangentFrame>,
    inside: [f64; 2],
    outside: [f64; 2],
) -> Option<TangentFrame> {
    let (mut good, mut bad, mut found) = (0.0, 1.0, None);
    for _ in 0..7 {
        let middle = 0.5 * (good + bad);
        let [s, t] = [0, 1].map(|k| inside[k] + (outside[k] - inside[k]) * middle);
        match at(s, t) {
            Some(frame) => (good, found) = (middle, Some(frame)),
            None => bad = middle,
        }
    }
    found.filter(|_| good > 0.1)
}
