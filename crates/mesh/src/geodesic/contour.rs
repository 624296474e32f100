//! Isolines on a surface.

use nalgebra::Point3;

use super::line::SurfaceLine;
use crate::{NONE, Surface};

/// A closed line around a region of the surface where values are at least the level.
#[derive(Debug, Clone, PartialEq)]
pub struct Contour {
    /// The line, with the higher values on its left seen from outside.
    pub line: SurfaceLine,
    /// For each segment whether it follows an open end of the surface, where the values are still above the level.
    pub on_border: Vec<bool>,
}

impl Contour {
    /// Whether part of the line follows an open end of the surface.
    #[must_use]
    pub fn along_border(&self) -> bool {
        self.on_border.contains(&true)
    }

    /// The stretches that do not follow an open end: the line itself where none does, else open lines.
    #[must_use]
    pub fn inner_parts(&self) -> Vec<SurfaceLine> {
        let n = self.on_border.len();
        let Some(first) = self.on_border.iter().position(|b| *b) else { return vec![self.line.clone()] };
        let mut parts: Vec<SurfaceLine> = Vec::new();
        let mut open = false;
        for i in (first..first + n).map(|i| i % n) {
            if self.on_border[i] {
                open = false;
                continue;
            }
            if !open {
                parts.push(SurfaceLine { points: vec![self.line.points[i]], ..SurfaceLine::default() });
                open = true;
            }
            if let Some(part) = parts.last_mut() {
                part.points.push(self.line.points[(i + 1) % n]);
                part.triangles.push(self.line.triangles[i]);
            }
        }
        parts
    }
}

/// An end of a segment of contour: on the edge between two vertices, or at one vertex (twice the same).
type ContourVertex = [u32; 2];

/// The closed lines around all parts of the surface where `values` (one a vertex) are at least `level`, by linear
/// interpolation in each triangle. Parts that run into an open end of the surface are closed along it.
#[must_use]
pub fn contour(surface: &Surface, values: &[f32], level: f32) -> Vec<Contour> {
    let mesh = surface.mesh();
    let inside = |v: u32| values[v as usize] >= level;
    let mut segments: Vec<(ContourVertex, ContourVertex, u32, bool)> = Vec::new();
    for (t, c) in mesh.triangles.iter().enumerate() {
        let edge = |k: usize| -> ContourVertex { [c[k % 3].min(c[(k + 1) % 3]), c[k % 3].max(c[(k + 1) % 3])] };
        let ins = c.map(inside);
        for k in 0..3 {
            // Corner k alone on its side: the segment runs between its two edges, the higher side on the left.
            if ins[k] != ins[(k + 1) % 3] && ins[k] != ins[(k + 2) % 3] {
                let (before, after) = (edge(k + 2), edge(k));
                segments.push(if ins[k] { (after, before, t as u32, false) } else { (before, after, t as u32, false) });
            }
            if surface.adjacency().neighbours[t][k] == NONE {
                let (a, b) = (c[k], c[(k + 1) % 3]);
                match (inside(a), inside(b)) {
                    (true, true) => segments.push(([a, a], [b, b], t as u32, true)),
                    (true, false) => segments.push(([a, a], edge(k), t as u32, true)),
                    (false, true) => segments.push((edge(k), [b, b], t as u32, true)),
                    (false, false) => {}
                }
            }
        }
    }
    segments.sort_unstable();

    let place = |[a, b]: ContourVertex| -> Point3<f32> {
        let (p, q) = (mesh.points[a as usize].cast::<f64>(), mesh.points[b as usize].cast::<f64>());
        if a == b {
            return mesh.points[a as usize];
        }
        let (x, y) = (f64::from(values[a as usize]), f64::from(values[b as usize]));
        (p + (q - p) * ((f64::from(level) - x) / (y - x)).clamp(0.0, 1.0)).cast()
    };
    let mut used = vec![false; segments.len()];
    // At the first segment from each place: the lowest of its segments that may still be unused, so that the search
    // stays linear.
    let mut lowest: Vec<usize> = (0..segments.len()).collect();
    let mut found = Vec::new();
    for start in 0..segments.len() {
        if used[start] {
            continue;
        }
        let mut line = SurfaceLine { closed: true, ..SurfaceLine::default() };
        let mut on_border = Vec::new();
        let mut at = start;
        let closed = loop {
            used[at] = true;
            let (from, to, triangle, border) = segments[at];
            line.points.push(place(from));
            line.triangles.push(triangle);
            on_border.push(border);
            if to == segments[start].0 {
                break true;
            }
            let first = segments.partition_point(|p| p.0 < to);
            let Some(mut on) = lowest.get(first).copied() else { break false };
            while on < segments.len() && segments[on].0 == to && used[on] {
                on += 1;
            }
            lowest[first] = on;
            if on == segments.len() || segments[on].0 != to {
                break false;
            }
            at = on;
        };
        // A line stays open only where triangles are inconsistently oriented.
        if closed && line.points.len() > 2 {
            found.push(Contour { line, on_border });
        }
    }
    found
}
