//! Lines to set holes on.

use nalgebra::{Point3, center};

/// A polyline; closed ones end where they begin, without repeating the point.
pub(super) struct Line {
    pub points: Vec<Point3<f32>>,
    pub closed: bool,
}

impl Line {
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

    /// The same line with points every `spacing_mm` and its scanner noise averaged out over a few of them.
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
