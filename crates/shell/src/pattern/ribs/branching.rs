//! Branching ribs: along the load paths, neighbours sharing a stem as long as they run close, like the veins of a leaf.

use std::f64::consts::{PI, TAU};

use mesh::Cancelled;
use nalgebra::{Point2, Vector2};

use super::flow::STEP_MM;
use super::frames::Obstacles;
use super::load_paths::{LoadPaths, direction};
use super::{LEAST_LENGTH_WIDTHS, RibContext};
use crate::limits::least_rib_spacing_mm;
use crate::pattern::tangent_frame::TangentFrame;

/// Paths nearer to each other than this share of the spacing run on one stem.
const STEM_SHARE: f64 = 0.6;
/// A stem shares at most this part of the shorter of its paths.
const LONGEST_STEM: f64 = 0.6;
/// Paths that leave the blow farther apart in direction than this get a rib each: a fork between them would be blunt.
const WIDEST_FORK: f64 = 72.0 * PI / 180.0;
/// Over so many times the distance at which paths part a fork opens: its branches leave each other at about 25°.
const OPENING: f64 = 2.2;
/// Two ribs that leave a frame nearer to each other than this share of the shortest stem would run into one.
const SIDE_BY_SIDE: f64 = 0.75;
/// Ribs end this far inside the trim line, mm.
const END_MM: f32 = 0.3;

/// A rib or several on one stem.
#[derive(Debug, Clone)]
struct Stem {
    /// The mean of its paths, at the same lengths from the blow.
    line: Vec<Point2<f64>>,
    /// Paths from this to that, in order of direction.
    first: usize,
    last: usize,
    /// The shortest of its paths, in steps.
    shortest: usize,
    /// Where it forks, in steps from the blow; the end of a single path.
    fork: usize,
    branches: Vec<Stem>,
}

impl Stem {
    fn of_path(number: usize, line: &[Point2<f64>]) -> Self {
        let end = line.len() - 1;
        Self { line: line.to_vec(), first: number, last: number, shortest: end, fork: end, branches: Vec::new() }
    }

    fn of(branches: Vec<Self>, fork: usize) -> Self {
        let longest = branches.iter().map(|b| b.line.len()).max().unwrap_or(0);
        let paths = |b: &Self| b.paths() as f64;
        let whole: f64 = branches.iter().map(paths).sum();
        let mean = |n: usize| {
            let sum: Vector2<f64> = branches.iter().map(|b| b.at(n).coords * paths(b)).sum();
            Point2::from(sum / whole)
        };
        Self {
            line: (0..longest).map(mean).collect(),
            first: branches[0].first,
            last: branches[branches.len() - 1].last,
            shortest: branches.iter().map(|b| b.shortest).min().unwrap_or(0),
            fork,
            branches,
        }
    }

    fn paths(&self) -> usize {
        self.branches.iter().map(Self::paths).sum::<usize>().max(1)
    }

    /// The point after so many steps, or the last.
    fn at(&self, step: usize) -> Point2<f64> {
        self.line[step.min(self.line.len() - 1)]
    }
}

/// The lines of the tree: each from the blow or from a fork to an end.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn tree(
    context: &RibContext<'_>,
    paths: &LoadPaths,
    obstacles: &Obstacles<'_>,
) -> Result<Vec<Vec<TangentFrame>>, Cancelled> {
    let mut lines = Vec::new();
    for line in drawn(context, paths, obstacles) {
        context.job.check()?;
        lines.push(on_skin(context, &line));
    }
    lines.retain(|line| line.len() > 1);
    Ok(lines)
}

/// The lines of the tree on the board.
fn drawn(context: &RibContext<'_>, paths: &LoadPaths, obstacles: &Obstacles<'_>) -> Vec<Vec<Point2<f64>>> {
    let ribs = context.ribs;
    let apart = f64::from(least_rib_spacing_mm(ribs)).max(STEM_SHARE * f64::from(ribs.spacing_mm));
    let least = (f64::from(LEAST_LENGTH_WIDTHS * ribs.width_mm) / STEP_MM).ceil() as usize;
    let mut lines = Vec::new();
    // Under what is framed there is no rib: the tree begins on the frame.
    let clear =
        |p: &Point2<f64>| context.board.site(*p).is_none_or(|site| obstacles.clear_mm(context, &site.frame) > 0.0);
    let begins = |line: &Vec<Point2<f64>>| line.iter().position(clear).unwrap_or(0);
    let first = paths.lines.iter().map(begins).max().unwrap_or(0);
    for stem in stems(paths, apart, first, least) {
        let over = Over { chain: vec![(&stem, 0, 1)] };
        draw(&over, Vec::new(), 0, (OPENING * apart / STEP_MM) as usize, &mut lines);
    }
    lines
}

/// Paths joined to stems, two neighbours after the other: always those that part last. No fork lies within `least` steps of
/// the first of the tree or of another one.
fn stems(paths: &LoadPaths, apart: f64, first: usize, least: usize) -> Vec<Stem> {
    let mut stems: Vec<Stem> = paths.lines.iter().enumerate().map(|(n, line)| Stem::of_path(n, line)).collect();
    let directions: Vec<f64> = paths.lines.iter().map(|line| direction(line)).collect();
    let turn = |a: &Stem, b: &Stem| (directions[b.last] - directions[a.first]).rem_euclid(TAU);
    while stems.len() > 2 {
        let count = stems.len();
        let fork = |n: usize| {
            let (a, b) = (&stems[n], &stems[(n + 1) % count]);
            if turn(a, b) > WIDEST_FORK {
                return 0;
            }
            let part = (0..).find(|k| *k >= a.shortest.min(b.shortest) || (a.at(*k) - b.at(*k)).norm() >= apart);
            // Where they would leave a frame side by side they leave it as one.
            let side_by_side = first > 0 && (a.at(first) - b.at(first)).norm() < apart.min(SIDE_BY_SIDE * least as f64);
            let part = part.map(|part| if side_by_side { part.max(first + least) } else { part });
            let longest = (LONGEST_STEM * a.shortest.min(b.shortest) as f64) as usize;
            // Between two forks a stem is no stub either.
            let before = |s: &Stem| if s.branches.is_empty() { usize::MAX } else { s.fork.saturating_sub(least) };
            part.unwrap_or(0).min(longest).min(before(a)).min(before(b))
        };
        let forks: Vec<usize> = (0..count).map(fork).collect();
        let Some(best) = (0..count).max_by_key(|n| (forks[*n], usize::MAX - n)).filter(|n| forks[*n] >= first + least)
        else {
            break;
        };
        // What mirrors it is joined with it.
        let image = paths.image.as_ref().and_then(|image| {
            let path = image[stems[(best + 1) % count].first.min(image.len() - 1)];
            stems.iter().position(|s| {
                s.first <= path && path <= s.last || s.first > s.last && (path >= s.first || path <= s.last)
            })
        });
        let mut joined = vec![false; count];
        joined[best] = true;
        if let Some(image) = image {
            joined[image] = true;
        }
        stems = join(stems, &joined, &forks);
    }
    stems
}

/// Joins each marked stem with the next one.
fn join(stems: Vec<Stem>, joined: &[bool], forks: &[usize]) -> Vec<Stem> {
    let count = stems.len();
    // Start after a gap, so that what is joined across the end of the list is together.
    let start = (0..count).find(|n| !joined[(n + count - 1) % count]).unwrap_or(0);
    let mut next = Vec::new();
    let mut group: Vec<Stem> = Vec::new();
    let mut fork = usize::MAX;
    let mut all = stems;
    all.rotate_left(start);
    for (k, stem) in all.into_iter().enumerate() {
        let n = (start + k) % count;
        group.push(stem);
        if joined[n] && k + 1 < count {
            fork = fork.min(forks[n]);
            continue;
        }
        let whole = std::mem::take(&mut group);
        next.push(match whole.len() {
            1 => whole.into_iter().next(),
            _ => Some(Stem::of(whole, fork)),
        });
        fork = usize::MAX;
    }
    next.into_iter().flatten().collect()
}

/// The stems on the way to a branch, each with the step at which it begins and the steps over which it is taken.
#[derive(Clone)]
struct Over<'a> {
    chain: Vec<(&'a Stem, usize, usize)>,
}

impl Over<'_> {
    fn at(&self, step: usize) -> Point2<f64> {
        let mut place = self.chain[0].0.at(step);
        for pair in self.chain.windows(2) {
            let (before, (own, from, over)) = (pair[0].0, pair[1]);
            let t = (step.saturating_sub(from) as f64 / over.max(1) as f64).min(1.0);
            place += (own.at(step) - before.at(step)) * (t * t * (3.0 - 2.0 * t));
        }
        place
    }
}

/// Draws a stem from its step `from` on, and its branches; `line` is what leads to it without a fork.
///
/// Behind a fork each branch goes over from the stem's way to its own within `opening` steps.
fn draw(over: &Over<'_>, mut line: Vec<Point2<f64>>, from: usize, opening: usize, lines: &mut Vec<Vec<Point2<f64>>>) {
    let Some((stem, ..)) = over.chain.last().copied() else { return };
    line.extend((from..=stem.fork).map(|step| over.at(step)));
    // The longest rib goes on from the stem, the others begin at the fork.
    let main = (0..stem.branches.len()).max_by_key(|n| (stem.branches[*n].line.len(), usize::MAX - n));
    for (n, branch) in stem.branches.iter().enumerate() {
        let room = 0.8 * branch.shortest.saturating_sub(stem.fork) as f64;
        let mut next = over.clone();
        next.chain.push((branch, stem.fork, opening.min(room as usize)));
        let start = if Some(n) == main { std::mem::take(&mut line) } else { Vec::new() };
        let first = if start.is_empty() { stem.fork } else { stem.fork + 1 };
        draw(&next, start, first, opening, lines);
    }
    if stem.branches.is_empty() {
        lines.push(line);
    }
}

/// A line of the board on the skin, as far as it is covered.
fn on_skin(context: &RibContext<'_>, line: &[Point2<f64>]) -> Vec<TangentFrame> {
    let at = |place: Point2<f64>| {
        let frame = context.board.site(place)?.frame;
        (context.skin.interpolate(context.edge_mm, &frame.hit) > END_MM).then_some(frame)
    };
    let mut frames = Vec::new();
    // A point in two does: the line is fair over some millimetres.
    for (n, place) in line.iter().enumerate().filter(|(n, _)| n % 2 == 0 || n + 1 == line.len()) {
        let Some(frame) = at(*place) else {
            if let Some(before) = n.checked_sub(2).map(|n| line[n]) {
                frames.extend(last_inside(&at, before, *place));
            }
            break;
        };
        frames.push(frame);
    }
    frames
}

/// The last place on the way from inside to outside that is still inside, unless it is hardly on the way.
fn last_inside(
    at: &impl Fn(Point2<f64>) -> Option<TangentFrame>,
    inside: Point2<f64>,
    outside: Point2<f64>,
) -> Option<TangentFrame> {
    let (mut good, mut bad, mut found) = (0.0, 1.0, None);
    for _ in 0..7 {
        let middle = 0.5 * (good + bad);
        match at(inside + (outside - inside) * middle) {
            Some(frame) => (good, found) = (middle, Some(frame)),
            None => bad = middle,
        }
    }
    found.filter(|_| good > 0.1)
}
