//! One triangle cut into small pieces, and a place on each.

use std::f64::consts::SQRT_2;

use nalgebra::Point3;
use smallvec::{SmallVec, smallvec};

const SQRT_3: f64 = 1.732_050_807_568_877_2;
/// No piece is cut more often, whatever its numbers.
const MOST_CUTS: i32 = 40;

/// Halves a triangle and its parts across their longest sides until none of them is `too_large`, which is told the
/// corners, the longest side in mm and the area in mm²; gives the corners and the area of each part. No angle of a part
/// is less than half the least of the whole (Rosenberg and Stenger 1975, "A lower bound on the angles of triangles
/// constructed by bisecting the longest side").
pub fn cut<E>(
    whole: [Point3<f64>; 3],
    too_large: impl Fn(&[Point3<f64>; 3], f64, f64) -> bool,
    mut each: impl FnMut(&[Point3<f64>; 3], f64) -> Result<(), E>,
) -> Result<(), E> {
    let area_mm2 = 0.5 * (whole[1] - whole[0]).cross(&(whole[2] - whole[0])).norm();
    let mut left: SmallVec<[_; 8]> = smallvec![(whole, 0)];
    while let Some((corners, cuts)) = left.pop() {
        let area_mm2 = area_mm2 * 0.5_f64.powi(cuts);
        let (side, length_mm) = longest(&corners);
        if cuts < MOST_CUTS && too_large(&corners, length_mm, area_mm2) {
            let [a, b, c] = [0, 1, 2].map(|k| corners[(side + k) % 3]);
            let middle = nalgebra::center(&a, &b);
            left.extend([([middle, b, c], cuts + 1), ([a, middle, c], cuts + 1)]);
        } else {
            each(&corners, area_mm2)?;
        }
    }
    Ok(())
}

/// Distance of a point from a segment.
pub fn off_segment(p: &Point3<f64>, [a, b]: &[Point3<f64>; 2]) -> f64 {
    let (along, to) = (b - a, p - a);
    let share = (to.dot(&along) / along.norm_squared()).clamp(0.0, 1.0);
    (to - along * share).norm()
}

/// A place in a triangle, another for each number; over many triangles they are spread evenly from middle to sides.
/// Middles alone would miss what is thin along edges. The numbers are fractions of multiples of √2 and √3 (Richtmyer
/// 1951), which no pattern in the order of the pieces keeps from being even, laid on a triangle as by Turk (1990,
/// "Generating random points in triangles").
pub fn place_in([a, b, c]: &[Point3<f64>; 3], number: usize) -> Point3<f32> {
    let fraction_of = |x: f64| (number as f64 * x).fract();
    let (root, share) = (fraction_of(SQRT_2).sqrt(), fraction_of(SQRT_3));
    let weights = [1.0 - root, root * (1.0 - share), root * share];
    Point3::from(a.coords * weights[0] + b.coords * weights[1] + c.coords * weights[2]).cast()
}

/// Which side of a triangle is the longest, and how long.
pub fn longest(corners: &[Point3<f64>; 3]) -> (usize, f64) {
    let lengths = [0, 1, 2].map(|k| (corners[(k + 1) % 3] - corners[k]).norm());
    let first = usize::from(lengths[1] > lengths[0]);
    let side = if lengths[2] > lengths[first] { 2 } else { first };
    (side, lengths[side])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The mean of all places is the centroid, and the strip along one side that is a tenth as wide as the triangle is
    /// high has 19 of 100 places, as of its area; of each second or eighth place too, as halving gives pieces in such
    /// an order.
    #[test]
    fn places_are_spread_evenly() {
        let corners = [[0.0, 0.0, 0.0], [3.0, 0.0, 0.0], [0.0, 3.0, 0.0]].map(Point3::from);
        let strips: [fn(&Point3<f32>) -> f32; 3] = [|p| p.x, |p| p.y, |p| 3.0 - p.x - p.y];
        for step in [1, 2, 8] {
            let places: Vec<Point3<f32>> = (0..10_000).map(|i| place_in(&corners, step * i)).collect();
            let mean = places.iter().map(|p| p.coords).sum::<nalgebra::Vector3<f32>>() / 10_000.0;
            assert!((mean - nalgebra::Vector3::new(1.0, 1.0, 0.0)).norm() < 0.005, "{mean}");
            for off_side in strips {
                let count = places.iter().filter(|p| off_side(p) < 0.3).count();
                assert!(count.abs_diff(1900) < 40, "{count} for each {step}.");
            }
        }
    }
}
