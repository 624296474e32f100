//! The distance to ribs as they were drawn, finer than from vertex to vertex: their tops have straight edges on any
//! triangles, and their sides run into each other in a round.

use std::collections::HashMap;

use nalgebra::Point3;

use crate::profile::smooth_least;

/// Where two ribs meet, the notch between their sides is rounded over this width, mm.
const FILLET_MM: f32 = 4.0;

/// The middle lines of ribs in pieces.
#[derive(Clone)]
pub(super) struct RibLines {
    reach_mm: f32,
    /// The number of its line and the ends of each piece, in the order of the lines.
    pieces: Vec<(usize, [Point3<f32>; 2])>,
    /// The pieces that come within reach of each cube with sides as long as the reach.
    cells: HashMap<[i32; 3], Vec<u32>>,
}

impl RibLines {
    /// Lines to which distances up to `reach_mm` are asked for.
    pub(super) fn new(lines: &[Vec<Point3<f32>>], reach_mm: f32) -> Self {
        let pieces: Vec<(usize, [Point3<f32>; 2])> = lines
            .iter()
            .enumerate()
            .flat_map(|(n, line)| line.windows(2).map(move |ends| (n, [ends[0], ends[1]])))
            .collect();
        let mut cells: HashMap<[i32; 3], Vec<u32>> = HashMap::new();
        for (number, (_, [a, b])) in (0..).zip(&pieces) {
            let cell = |p: Point3<f32>| [p.x, p.y, p.z].map(|x| (x / reach_mm).floor() as i32);
            let grown = nalgebra::Vector3::repeat(reach_mm);
            let (low, high) = (cell(a.inf(b) - grown), cell(a.sup(b) + grown));
            for x in low[0]..=high[0] {
                for y in low[1]..=high[1] {
                    for z in low[2]..=high[2] {
                        cells.entry([x, y, z]).or_default().push(number);
                    }
                }
            }
        }
        Self { reach_mm, pieces, cells }
    }

    /// The distance of a skin point to the nearest line, mm, less where two lines meet; nothing where none is in reach.
    /// Over the few millimetres of a rib's side the straight distance is that on the skin.
    pub(super) fn distance_mm(&self, p: &Point3<f32>) -> Option<f32> {
        let cell = [p.x, p.y, p.z].map(|x| (x / self.reach_mm).floor() as i32);
        let (mut least, mut of_line) = (f32::INFINITY, (usize::MAX, f32::INFINITY));
        for (line, [a, b]) in self.cells.get(&cell)?.iter().map(|n| &self.pieces[*n as usize]) {
            let (way, off) = (b - a, p - a);
            let share = (off.dot(&way) / way.norm_squared().max(f32::MIN_POSITIVE)).clamp(0.0, 1.0);
            let away = (off - way * share).norm();
            if *line == of_line.0 {
                of_line.1 = of_line.1.min(away);
            } else {
                least = with_fillet(least, of_line.1);
                of_line = (*line, away);
            }
        }
        let least = with_fillet(least, of_line.1);
        (least <= self.reach_mm).then_some(least)
    }
}

fn with_fillet(a: f32, b: f32) -> f32 {
    if a.is_finite() && b.is_finite() { smooth_least(a, b, FILLET_MM) } else { a.min(b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(points: &[[f32; 2]]) -> Vec<Point3<f32>> {
        points.iter().map(|p| Point3::new(p[0], p[1], 0.0)).collect()
    }

    #[test]
    fn distances_are_those_to_the_line_and_end_at_the_reach() {
        let lines = RibLines::new(&[line(&[[0.0, 0.0], [10.0, 0.0], [10.0, 30.0]])], 6.0);
        let at = |x: f32, y: f32| lines.distance_mm(&Point3::new(x, y, 0.0));
        assert!((at(4.0, 2.5).unwrap() - 2.5).abs() < 1e-6);
        assert!((at(13.0, 20.0).unwrap() - 3.0).abs() < 1e-6);
        assert!((at(-3.0, -4.0).unwrap() - 5.0).abs() < 1e-6);
        assert_eq!(at(4.0, -9.0), None);
    }

    #[test]
    fn between_two_lines_that_meet_it_is_rounded_and_far_from_one_it_is_not() {
        let lines = RibLines::new(&[line(&[[-20.0, 0.0], [20.0, 0.0]]), line(&[[0.0, -20.0], [0.0, 20.0]])], 8.0);
        let at = |x: f32, y: f32| lines.distance_mm(&Point3::new(x, y, 0.0)).unwrap();
        // Equally far from both it is a quarter of the fillet less; 4 mm farther from one it is exact.
        assert!((at(3.0, 3.0) - 2.0).abs() < 1e-5, "{}", at(3.0, 3.0));
        assert!((at(3.0, 7.5) - 3.0).abs() < 1e-5);
    }
}
