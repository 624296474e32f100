//! Letters cut through the wall, as of a stencil: what a line encloses, such as the inside of a 0, is held by bridges.

use std::collections::BTreeMap;

use crate::Shape;
use crate::limits::MIN_LIGAMENT_MM;

/// Smaller parts are left out: they are no letter but a corner cut off by a bridge, mm².
const LEAST_PART_MM2: f32 = 1.0;

/// A drawing on its grid.
struct Raster<'a> {
    origin: [f32; 2],
    step: f32,
    width: usize,
    distance: &'a [f32],
}

/// The openings of a drawing that is cut through the wall: one for each part that hangs together once bridges, as wide
/// as the least wall between openings, hold what it encloses from above and below.
pub(super) fn openings(drawing: &Shape) -> Vec<Shape> {
    let Shape::Drawing { origin, step, width, distance } = drawing else { return vec![drawing.clone()] };
    let raster = Raster { origin: *origin, step: *step, width: *width, distance };
    let outside = raster.parts(|d| d >= 0.0);
    // The first sample is a corner of the margin.
    let around = outside[0];
    let mut cut = distance.clone();
    for box_of in raster.boxes(&outside).iter().filter(|(part, _)| **part != around).map(|(_, box_of)| box_of) {
        let [low, high] = *box_of;
        let middle = (low[0] + high[0]) / 2;
        let is_beyond = |j: &usize| outside[j * width + middle] == around;
        let (Some(top), Some(bottom)) = ((high[1]..raster.height()).find(is_beyond), (0..low[1]).rev().find(is_beyond))
        else {
            continue;
        };
        let at = raster.place(middle, 0)[0];
        // A bridge goes on beyond the letter, or its end would be a spike of an opening.
        let [from, to] =
            [(bottom, -MIN_LIGAMENT_MM), (top, MIN_LIGAMENT_MM)].map(|(j, more)| raster.place(0, j)[1] + more);
        let bridge = Shape::RoundedBox {
            centre: [at, 0.5 * (from + to)],
            direction: [1.0, 0.0],
            half: [0.5 * MIN_LIGAMENT_MM, 0.5 * (to - from)],
            round: 0.0,
        };
        for (k, d) in cut.iter_mut().enumerate() {
            *d = d.max(-bridge.signed_distance(raster.place(k % width, k / width)));
        }
    }
    let left = Raster { distance: &cut, ..raster };
    let inside = left.parts(|d| d < 0.0);
    let mut areas = BTreeMap::<usize, f32>::new();
    for (part, d) in inside.iter().zip(&cut) {
        if *d < 0.0 {
            *areas.entry(*part).or_default() += left.step * left.step;
        }
    }
    let of_part = |part: usize| {
        // The other parts are as far outside as they are inside of themselves.
        let own = cut.iter().zip(&inside).map(|(d, p)| if *d < 0.0 && *p != part { -d } else { *d }).collect();
        Shape::Drawing { origin: left.origin, step: left.step, width: left.width, distance: own }
    };
    areas.into_iter().filter(|(_, area)| *area >= LEAST_PART_MM2).map(|(part, _)| of_part(part)).collect()
}

impl Raster<'_> {
    fn height(&self) -> usize {
        self.distance.len() / self.width
    }

    fn place(&self, i: usize, j: usize) -> [f32; 2] {
        [self.origin[0] + i as f32 * self.step, self.origin[1] + j as f32 * self.step]
    }

    /// For each sample the number of the part, of those that `is_in` takes or of the rest, that it hangs together with:
    /// that of its first sample.
    fn parts(&self, is_in: impl Fn(f32) -> bool) -> Vec<usize> {
        let mut part = vec![usize::MAX; self.distance.len()];
        let mut open = Vec::new();
        for first in 0..part.len() {
            if part[first] != usize::MAX {
                continue;
            }
            let kind = is_in(self.distance[first]);
            part[first] = first;
            open.push(first);
            while let Some(at) = open.pop() {
                let (i, j) = (at % self.width, at / self.width);
                let beside = [
                    (i > 0).then(|| at - 1),
                    (i + 1 < self.width).then(|| at + 1),
                    (j > 0).then(|| at - self.width),
                    (j + 1 < self.height()).then(|| at + self.width),
                ];
                for next in beside.into_iter().flatten() {
                    if part[next] == usize::MAX && is_in(self.distance[next]) == kind {
                        part[next] = first;
                        open.push(next);
                    }
                }
            }
        }
        part
    }

    /// The lowest and highest samples of each part outside of the letters.
    fn boxes(&self, part: &[usize]) -> BTreeMap<usize, [[usize; 2]; 2]> {
        let mut boxes = BTreeMap::new();
        for (at, part) in part.iter().enumerate().filter(|(at, _)| self.distance[*at] >= 0.0) {
            let here = [at % self.width, at / self.width];
            let [low, high] = boxes.entry(*part).or_insert([here, here]);
            for k in 0..2 {
                low[k] = low[k].min(here[k]);
                high[k] = high[k].max(here[k]);
            }
        }
        boxes
    }
}

#[cfg(test)]
mod tests {
    use mesh::Job;

    use super::super::glyphs;
    use super::*;

    fn cut(text: &str) -> Vec<Shape> {
        openings(&glyphs::set(text, 20.0).unwrap().drawing(0.2, &Job::silent()).unwrap())
    }

    #[test]
    fn what_is_enclosed_hangs_on_bridges_and_the_rest_is_as_drawn() {
        // Topology of the typeface: a 1 is one part; a 0 falls into two halves; an 8 too, whose bridges are in line.
        for (text, parts) in [("1", 1), ("0", 2), ("8", 2), ("10", 3), ("4", 2)] {
            assert_eq!(cut(text).len(), parts, "{text}");
        }
        let zero = cut("0");
        let all = |p: [f32; 2]| zero.iter().map(|s| s.signed_distance(p)).fold(f32::INFINITY, f32::min);
        // On the middle line there is wall from above to below, half a bridge to each side.
        for y in -12..=12 {
            assert!(all([0.0, y as f32]) > 0.5, "{y}");
        }
        let left = zero.iter().filter(|s| s.signed_distance([-5.2, 0.0]) < 0.0).count();
        assert_eq!(left, 1);
    }
}
