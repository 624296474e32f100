//! Lines of equal value on the skin.

use mesh::Surface;
use nalgebra::{Point3, center};

/// A line of equal value; closed ones end where they begin, without repeating the point.
pub(super) struct Contour {
    pub points: Vec<Point3<f32>>,
    pub closed: bool,
}

impl Contour {
    pub fn length_mm(&self) -> f32 {
        self.segments().map(|(a, b)| (b - a).norm()).sum()
    }

    fn segments(&self) -> impl Iterator<Item = (Point3<f32>, Point3<f32>)> + '_ {
        let count = if self.closed { self.points.len() } else { self.points.len().saturating_sub(1) };
        (0..count).map(|i| (self.points[i], self.points[(i + 1) % self.points.len()]))
    }

    /// Points at these distances along the line, which must rise.
    pub fn points_at(&self, distances: impl Iterator<Item = f32>) -> Vec<Point3<f32>> {
        let mut segments = self.segments();
        let Some(mut segment) = segments.next() else { return Vec::new() };
        let mut passed = 0.0;
        distances
            .map(|distance| {
                loop {
                    let length = (segment.1 - segment.0).norm();
                    if distance <= passed + length {
                        let t = if length > 0.0 { (distance - passed) / length } else { 0.0 };
                        return segment.0 + (segment.1 - segment.0) * t;
                    }
                    passed += length;
                    match segments.next() {
                        Some(next) => segment = next,
                        None => return segment.1,
                    }
                }
            })
            .collect()
    }

    /// The same line with its scanner noise averaged out over `width_mm`.
    pub fn smoothed(&self, spacing_mm: f32, rounds: usize) -> Self {
        let length = self.length_mm();
        let count = (length / spacing_mm).round().max(3.0) as usize;
        let steps = if self.closed { count } else { count - 1 };
        let mut points = self.points_at((0..count).map(|i| i as f32 * length / steps as f32));
        for _ in 0..rounds {
            let old = points.clone();
            let inner = if self.closed { 0..count } else { 1..count.saturating_sub(1) };
            for i in inner {
                points[i] = center(&old[i], &center(&old[(i + count - 1) % count], &old[(i + 1) % count]));
            }
        }
        Self { points, closed: self.closed }
    }
}

/// All lines where `values` equal `level`, with larger values on the left, in a fixed order.
pub(super) fn contours(skin: &Surface, values: &[f32], level: f32) -> Vec<Contour> {
    let mesh = skin.mesh();
    let above = |v: u32| values[v as usize] >= level;
    let neighbours = &skin.adjacency().neighbours;
    // In a crossed triangle the line runs from the side that goes down to the side that goes up.
    let side = |t: u32, rising: bool| {
        let c = mesh.triangles[t as usize];
        (0..3).find(|k| above(c[*k]) != rising && above(c[(k + 1) % 3]) == rising)
    };
    let crossing = |t: u32, k: usize| {
        let c = mesh.triangles[t as usize];
        // From the lower vertex, so that both triangles of an edge give the same point.
        let (a, b) = (c[k].min(c[(k + 1) % 3]), c[k].max(c[(k + 1) % 3]));
        let (va, vb) = (values[a as usize], values[b as usize]);
        let t = ((level - va) / (vb - va)).clamp(0.0, 1.0);
        let (a, b) = (mesh.points[a as usize], mesh.points[b as usize]);
        a + (b - a) * t
    };
    let mut used = vec![false; mesh.triangles.len()];
    let mut lines = Vec::new();
    for start in 0..mesh.triangles.len() as u32 {
        if used[start as usize] || side(start, true).is_none() {
            continue;
        }
        // Back to the beginning of an open line, or once round a closed one.
        let mut first = start;
        while let Some(k) = side(first, false) {
            let before = neighbours[first as usize][k];
            if before == mesh::NONE || before == start || used[before as usize] {
                break;
            }
            used[first as usize] = true;
            first = before;
        }
        let mut line = Vec::new();
        let mut walked = Vec::new();
        let mut at = first;
        let closed = loop {
            used[at as usize] = true;
            walked.push(at);
            let (Some(from), Some(to)) = (side(at, false), side(at, true)) else { break false };
            line.push(crossing(at, from));
            let next = neighbours[at as usize][to];
            if next == first {
                break true;
            }
            if next == mesh::NONE || walked.len() > mesh.triangles.len() || side(next, true).is_none() {
                line.push(crossing(at, to));
                break false;
            }
            at = next;
        };
        if line.len() > 1 {
            lines.push(Contour { points: line, closed });
        }
    }
    lines
}
