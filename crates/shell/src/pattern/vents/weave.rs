//! Staggered rows or columns of places on the drawing board, and choosing how they lie.
//!
//! Rows run on from bay to bay at one height. Across, each bay has its own shift: a bay over the middle line has a vent
//! or a wall on it, the others are filled as well as may be, and their mirror images alike.

use std::collections::BTreeSet;

use mesh::Cancelled;
use nalgebra::Point2;
use rayon::prelude::*;

use super::VentContext;
use super::raster::{Raster, partner};
use crate::board::Board;
use crate::pattern::Site;

/// Shifts that are tried, as parts of a step.
const SHIFTS: usize = 6;

/// Staggered rows or columns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weave {
    /// Whether every other column is shifted, by half a step upwards, and not every other row.
    pub columns: bool,
    /// From place to place to the right, and upwards, mm: of a row the one, between rows the other.
    pub step: [f64; 2],
}

/// A weave in one bay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Laid {
    /// The weave.
    pub weave: Weave,
    /// The bay.
    pub bay: u32,
    /// How far it is shifted to the right and upwards, mm.
    pub shift: [f64; 2],
    /// Whether it is the mirror image of the one with this shift.
    pub flipped: bool,
}

impl Weave {
    /// Rows whose neighbours are all `pitch` apart.
    pub fn rows(pitch: f64) -> Self {
        Self { columns: false, step: [pitch, pitch * 0.75_f64.sqrt()] }
    }

    /// Columns whose neighbours are all `pitch` apart.
    pub fn columns(pitch: f64) -> Self {
        Self { columns: true, step: [pitch * 0.75_f64.sqrt(), pitch] }
    }

    /// The place with two numbers.
    pub fn place(&self, [i, j]: [i32; 2], shift: [f64; 2]) -> Point2<f64> {
        let half = |n: i32| 0.5 * f64::from(n.rem_euclid(2));
        let (x, y) =
            if self.columns { (f64::from(i), f64::from(j) + half(i)) } else { (f64::from(i) + half(j), f64::from(j)) };
        Point2::new(x * self.step[0] + shift[0], y * self.step[1] + shift[1])
    }

    /// The six places next to one.
    fn around(&self, [i, j]: [i32; 2]) -> [[i32; 2]; 6] {
        if self.columns {
            let up = i.rem_euclid(2);
            [[i, j - 1], [i, j + 1], [i - 1, j + up - 1], [i - 1, j + up], [i + 1, j + up - 1], [i + 1, j + up]]
        } else {
            let on = j.rem_euclid(2);
            [[i - 1, j], [i + 1, j], [i + on - 1, j - 1], [i + on, j - 1], [i + on - 1, j + 1], [i + on, j + 1]]
        }
    }

    /// How far two places are apart, in steps: 1 for neighbours.
    pub fn steps_between(&self, a: Point2<f64>, b: Point2<f64>) -> f64 {
        let squeeze = 0.75_f64.sqrt();
        let [x, y] = if self.columns { [squeeze, 1.0] } else { [1.0, squeeze] };
        ((b.x - a.x) / self.step[0] * x).hypot((b.y - a.y) / self.step[1] * y)
    }
}

impl Laid {
    /// Its places in and behind its bay, bent with the edges, each with its numbers.
    pub fn places<'a>(
        &'a self,
        board: &'a Board<'_>,
        raster: &'a Raster,
    ) -> impl Iterator<Item = ([i32; 2], Point2<f64>)> + 'a {
        let side = if self.flipped { -1.0 } else { 1.0 };
        let [i, j] = raster.bounds_of(self.bay).map_or([0..0, 0..0], |(low, high)| {
            let [from, to] = if self.flipped { [-high.x, -low.x] } else { [low.x, high.x] };
            let numbers = |from: f64, to: f64, k: usize, more: f64| {
                let [step, shift] = [self.weave.step[k], self.shift[k]];
                ((from - shift - more) / step).floor() as i32 - 1..((to - shift + more) / step).ceil() as i32 + 2
            };
            // Rows bend away from where they are counted by less than this.
            [numbers(from, to, 0, 0.0), numbers(low.y, high.y, 1, 12.0)]
        });
        j.flat_map(move |j| i.clone().map(move |i| [i, j]))
            .map(move |at| {
                let place = self.weave.place(at, self.shift);
                (at, board.curves.bent(Point2::new(place.x * side, place.y)))
            })
            .filter(|(_, place)| raster.bay(*place) == self.bay)
    }

    /// The place of a column at a height, bent with the edges.
    pub fn bent(&self, board: &Board<'_>, column: i32, height: f64) -> Point2<f64> {
        let x = f64::from(column) * self.weave.step[0] + self.shift[0];
        board.curves.bent(Point2::new(if self.flipped { -x } else { x }, height))
    }

    /// The columns of a weave of columns over its bay, and the heights at which each is cut, from below upwards.
    pub fn columns(&self, board: &Board<'_>, raster: &Raster) -> Vec<(i32, Vec<f64>)> {
        let mut found = std::collections::BTreeMap::<i32, (i32, i32)>::new();
        for ([i, j], _) in self.places(board, raster) {
            let ends = found.entry(i).or_insert((j, j));
            *ends = (ends.0.min(j), ends.1.max(j));
        }
        let cuts = |(i, (low, high)): (i32, (i32, i32))| {
            (i, (low - 1..=high + 1).map(|j| self.weave.place([i, j], self.shift).y).collect())
        };
        found.into_iter().map(cuts).collect()
    }

    /// Its sites in and behind its bay.
    pub fn sites(&self, board: &Board<'_>, raster: &Raster) -> Vec<Site> {
        self.places(board, raster).filter_map(|(_, place)| board.site(place)).collect()
    }

    /// How many places have this much room and two neighbours that have it too.
    fn count(&self, board: &Board<'_>, raster: &Raster, room_mm: f32) -> usize {
        let roomy = self.places(board, raster).filter(|(_, place)| raster.room(*place) >= room_mm);
        let mut kept: BTreeSet<[i32; 2]> = roomy.map(|(at, _)| at).collect();
        loop {
            let lone: Vec<[i32; 2]> = kept
                .iter()
                .filter(|at| self.weave.around(**at).iter().filter(|n| kept.contains(*n)).count() < 2)
                .copied()
                .collect();
            if lone.is_empty() {
                return kept.len();
            }
            for at in lone {
                kept.remove(&at);
            }
        }
    }
}

/// For each bay the weave, of those given, and the shift with the best score: how many places have `room_mm`.
pub fn most_places(
    context: &VentContext<'_>,
    raster: &Raster,
    weaves: &[Weave],
    room_mm: f32,
) -> Result<Vec<Laid>, Cancelled> {
    choose(context, raster, weaves, |laid| laid.count(&context.board, raster, room_mm) as f64)
}

/// For each bay the weave, of those given, and the shift with the best score. All bays have the same weave, and their
/// rows one height.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn choose(
    context: &VentContext<'_>,
    raster: &Raster,
    weaves: &[Weave],
    score: impl Fn(&Laid) -> f64 + Sync,
) -> Result<Vec<Laid>, Cancelled> {
    let board = &context.board;
    let heights = (0..SHIFTS).map(|k| k as f64 / SHIFTS as f64);
    let ways: Vec<(Weave, f64)> =
        weaves.iter().flat_map(|w| heights.clone().map(|k| (*w, k * 2.0 * w.step[1]))).collect();
    let tries = ways
        .par_iter()
        .map(|&(weave, height)| -> Result<(f64, Vec<Laid>), Cancelled> {
            let (mut total, mut all) = (0.0, Vec::new());
            for bay in context.bays.numbers() {
                context.job.check()?;
                let image = partner(raster, board, bay);
                // The image of an earlier bay is laid out with it.
                if image.is_some_and(|image| image != bay && all.iter().any(|l: &Laid| l.bay == bay)) {
                    continue;
                }
                let central = image == Some(bay);
                let across = if central {
                    central_shifts(&weave)
                } else {
                    (0..SHIFTS).map(|k| k as f64 / SHIFTS as f64).collect()
                };
                let best = across
                    .into_iter()
                    .map(|x| Laid { weave, bay, shift: [x * weave.step[0], height], flipped: false })
                    .map(|laid| (score(&laid), laid))
                    .reduce(|a, b| if b.0 > a.0 + 1e-9 { b } else { a });
                let Some((found, laid)) = best else { continue };
                all.push(laid);
                total += found;
                if let Some(other) = image.filter(|image| *image != bay) {
                    let image = Laid { bay: other, flipped: true, ..laid };
                    total += score(&image);
                    all.push(image);
                }
            }
            Ok((total, all))
        })
        .collect::<Result<Vec<_>, _>>()?;
    let best = tries.into_iter().reduce(|a, b| if b.0 > a.0 + 1e-9 { b } else { a });
    Ok(best.map(|(_, all)| all).unwrap_or_default())
}

/// Shifts, in steps, with which a weave is its own mirror image: a place or a wall on the middle line.
fn central_shifts(weave: &Weave) -> Vec<f64> {
    // Of columns between which the middle line ran one would be higher than the other.
    if weave.columns { vec![0.0] } else { vec![0.0, 0.5] }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_are_one_step_apart_and_others_farther() {
        for weave in [Weave::rows(7.0), Weave::columns(7.0)] {
            for at in [[0, 0], [3, 5], [-2, -3], [-3, 4]] {
                let here = weave.place(at, [0.3, 0.2]);
                let near = weave.around(at);
                for i in -8..8 {
                    for j in -8..8 {
                        let away = (weave.place([i, j], [0.3, 0.2]) - here).norm();
                        if near.contains(&[i, j]) {
                            assert!((away - 7.0).abs() < 1e-9, "{at:?} {i} {j} {away}");
                            assert!((weave.steps_between(here, weave.place([i, j], [0.3, 0.2])) - 1.0).abs() < 1e-9);
                        } else if [i, j] != at {
                            assert!(away > 12.0, "{at:?} {i} {j} {away}");
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn a_weave_with_a_central_shift_is_its_own_mirror_image() {
        for weave in [Weave::rows(7.0), Weave::columns(7.0), Weave { columns: true, step: [6.0, 20.0] }] {
            for shift in central_shifts(&weave) {
                let at = |i, j| weave.place([i, j], [shift * weave.step[0], 0.4]);
                let all: Vec<Point2<f64>> = (-9..9).flat_map(|j| (-9..9).map(move |i| at(i, j))).collect();
                for place in (-4..4).flat_map(|j| (-4..4).map(move |i| at(i, j))) {
                    let image = Board::mirror(place);
                    assert!(all.iter().any(|p| (p - image).norm() < 1e-9), "{weave:?} {shift} {place}");
                }
            }
        }
    }
}
