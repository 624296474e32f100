//! The shortest line inside a strip of triangles, by unfolding the strip into the plane and pulling a string tight.

use nalgebra::{Point2, Point3};

use crate::Surface;

/// Where the tight string touches a corner of the strip.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bend {
    /// The vertex it touches.
    pub(super) vertex: u32,
    /// It lies to the left of the string.
    pub(super) on_left: bool,
    /// Angle at the vertex on the side of the strip, radians; at least π up to rounding.
    pub(super) angle: f64,
}

/// The tight string: a point on each edge between two triangles of the strip, and its bends.
#[derive(Debug)]
pub(super) struct TightString {
    /// One point for each crossing between successive triangles.
    pub(super) crossings: Vec<Point3<f64>>,
    pub(super) bends: Vec<Bend>,
    pub(super) length_mm: f64,
}

/// Portal at which the string turns, the vertex and whether it is on the left (none at the two ends), and the place.
type Corner = (usize, Option<(u32, bool)>, Point2<f64>);

/// Ends of the edge between triangle `t` and `next`: left and right as seen on the way from `t` to `next`.
pub(super) fn portal(surface: &Surface, t: u32, next: u32) -> Option<[u32; 2]> {
    let k = (0..3).find(|k| surface.adjacency().neighbours[t as usize][*k] == next)?;
    let c = surface.mesh().triangles[t as usize];
    // The triangle runs counter-clockwise, so leaving over side k its end is on the left.
    Some([c[(k + 1) % 3], c[k]])
}

/// Pulls the string from `from` in the first triangle of `strip` to `to` in its last.
pub(super) fn pull(surface: &Surface, strip: &[u32], from: &Point3<f64>, to: &Point3<f64>) -> Option<TightString> {
    let portals: Vec<[u32; 2]> = strip.windows(2).map(|w| portal(surface, w[0], w[1])).collect::<Option<_>>()?;
    if portals.is_empty() {
        return Some(TightString { crossings: Vec::new(), bends: Vec::new(), length_mm: (to - from).norm() });
    }
    let at = |v: u32| surface.mesh().points[v as usize].cast::<f64>();
    let flat = FlatStrip::unfold(&portals, at, from, to);
    let corners = flat.corners(&portals);
    let crossings =
        flat.crossings(&corners).zip(&portals).map(|(s, ends)| at(ends[0]) + (at(ends[1]) - at(ends[0])) * s).collect();
    let length_mm = corners.windows(2).map(|w| (w[1].2 - w[0].2).norm()).sum();
    Some(TightString { crossings, bends: bends(&corners), length_mm })
}

/// A strip of triangles laid into the plane.
struct FlatStrip {
    /// Left and right end of each portal.
    portals: Vec<[Point2<f64>; 2]>,
    start: Point2<f64>,
    end: Point2<f64>,
}

impl FlatStrip {
    /// The first portal on the x axis with the start below it, then triangle after triangle; `portals` is not empty.
    fn unfold(portals: &[[u32; 2]], at: impl Fn(u32) -> Point3<f64>, from: &Point3<f64>, to: &Point3<f64>) -> Self {
        let (first, last) = (portals[0], portals[portals.len() - 1]);
        let width = (at(first[1]) - at(first[0])).norm();
        // Going up (+y) the left end is at x = 0 and the right end at x = width.
        let mut flat = vec![[Point2::new(0.0, 0.0), Point2::new(width, 0.0)]];
        let start = unfold(&at(first[0]), &at(first[1]), from, &flat[0], -1.0);
        for (i, w) in portals.windows(2).enumerate() {
            let (old, new) = (w[0], w[1]);
            let [left, right] = flat[i];
            let tip_vertex = if new[0] == old[0] { new[1] } else { new[0] };
            let tip = unfold(&at(old[0]), &at(old[1]), &at(tip_vertex), &[left, right], 1.0);
            flat.push(if new[0] == old[0] { [left, tip] } else { [tip, right] });
        }
        let end = unfold(&at(last[0]), &at(last[1]), to, &flat[flat.len() - 1], 1.0);
        Self { portals: flat, start, end }
    }

    /// Where the tight string turns, its two ends included, by the funnel algorithm (Lee and Preparata, "Euclidean
    /// shortest paths in the presence of rectilinear barriers", 1984).
    fn corners(&self, vertices: &[[u32; 2]]) -> Vec<Corner> {
        let n = self.portals.len();
        let mut corners: Vec<Corner> = vec![(0, None, self.start)];
        let (mut apex, mut left, mut right) = (self.start, self.portals[0][0], self.portals[0][1]);
        let (mut left_at, mut right_at) = (0_usize, 0_usize);
        let mut i = 1;
        loop {
            // The end is a portal without width: it either lies inside the funnel or beyond one of its sides.
            let [new_left, new_right] = if i < n { self.portals[i] } else { [self.end, self.end] };
            // Only the side that moves is tested: from a start on the first portal both are collinear with it.
            let right_narrows = new_right != right && turn(&apex, &right, &new_right) >= 0.0;
            let left_narrows = new_left != left && turn(&apex, &left, &new_left) <= 0.0;
            let beyond_left = apex != left && turn(&apex, &left, &new_right) > 0.0;
            let beyond_right = apex != right && turn(&apex, &right, &new_left) < 0.0;
            if right_narrows && beyond_left && apex != right {
                corners.push((left_at, Some((vertices[left_at][0], true)), left));
                apex = left;
                i = left_at + 1;
                (right, right_at) = (apex, left_at);
                continue;
            }
            if left_narrows && beyond_right && apex != left {
                corners.push((right_at, Some((vertices[right_at][1], false)), right));
                apex = right;
                i = right_at + 1;
                (left, left_at) = (apex, right_at);
                continue;
            }
            if i >= n {
                break;
            }
            if right_narrows {
                (right, right_at) = (new_right, i);
            }
            if left_narrows {
                (left, left_at) = (new_left, i);
            }
            i += 1;
        }
        corners.push((n, None, self.end));
        // The same vertex may end up twice in a row.
        corners.dedup_by(|x, y| x.1.is_some() && x.1 == y.1);
        corners
    }

    /// For each portal how far from its left to its right end the string crosses it, 0 to 1.
    fn crossings(&self, corners: &[Corner]) -> impl Iterator<Item = f64> {
        let mut leg = 0;
        self.portals.iter().enumerate().map(move |(i, [l, r])| {
            while leg + 2 < corners.len() && corners[leg + 1].0 < i {
                leg += 1;
            }
            let (a, b) = (corners[leg].2, corners[leg + 1].2);
            let (u, v) = (b - a, r - l);
            let across = u.perp(&v);
            let s = if across.abs() > 1e-9 * u.norm() * v.norm() {
                // Left end plus s times the portal lies on the leg.
                u.perp(&(a - l)) / across
            } else {
                // The leg runs along the portal.
                (b - l).dot(&v) / v.norm_squared()
            };
            if s.is_finite() { s.clamp(0.0, 1.0) } else { 0.0 }
        })
    }
}

/// The bends of a tight string at its corners.
fn bends(corners: &[Corner]) -> Vec<Bend> {
    let bend = |w: &[Corner]| {
        let (vertex, on_left) = w[1].1?;
        let (back, ahead) = (w[0].2 - w[1].2, w[2].2 - w[1].2);
        let angle = ahead.y.atan2(ahead.x) - back.y.atan2(back.x);
        // Vertex on the right, strip on the left: from `ahead` counter-clockwise to `back`.
        let angle = if on_left { angle } else { -angle };
        Some(Bend { vertex, on_left, angle: angle.rem_euclid(std::f64::consts::TAU) })
    };
    corners.windows(3).filter_map(bend).collect()
}

/// Positive when `c` lies to the left of the line from `a` through `b`.
fn turn(a: &Point2<f64>, b: &Point2<f64>, c: &Point2<f64>) -> f64 {
    (b - a).perp(&(c - a))
}

/// Lays `p` into the plane beside the edge from `left` to `right`, beyond it (`side` = 1) or before it (−1).
fn unfold(left: &Point3<f64>, right: &Point3<f64>, p: &Point3<f64>, flat: &[Point2<f64>; 2], side: f64) -> Point2<f64> {
    let edge = right - left;
    let length = edge.norm().max(1e-300);
    let along = (p - left).dot(&edge) / length;
    let off = ((p - left).norm_squared() - along * along).max(0.0).sqrt();
    let x = (flat[1] - flat[0]) / length;
    // With left at x = 0 and right at +x one goes towards +y.
    flat[0] + x * along + nalgebra::Vector2::new(-x.y, x.x) * (off * side)
}
