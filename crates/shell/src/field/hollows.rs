//! Hollows of the fair skin that are narrower than the outer face stands high: over them it would meet itself in a crease.
//!
//! They are filled from below, as a sheet under even pressure would lie over them, for as long as they are more hollow
//! than a ball of a set radius, and no higher than a few millimetres.

use std::sync::Arc;

use mesh::{Cancelled, Job, Surface};
use nalgebra::{Point3, Vector3};

use super::near::Near;
use super::smooth_normals::smooth_normals;

/// The radius to which hollows are filled, mm: the outer face over them stands less high, so it is still round.
const LEAST_RADIUS_MM: f32 = 24.0;
/// Only hollows with a radius of less than this somewhere are filled, mm: over others the face does not crease.
const CREASED_MM: f32 = 12.0;
/// Nothing is raised by more than this, mm: deep clefts, as between fingers, stay.
const MOST_MM: f32 = 2.5;
/// A vertex moves by this share of what it lies too low, so that neighbours do not overtake each other.
const SHARE: f32 = 0.6;
/// Rounds of raising; hollows are filled from their bottom on.
const ROUNDS: usize = 2000;
/// What lies too low by less than this share of an edge is let be.
const LET_BE: f32 = 1e-4;

/// The fair skin with its narrow hollows filled near the zone; itself where there are none.
///
/// # Errors
/// [`Cancelled`] on request.
pub(super) fn filled(fair: Arc<Surface>, near: &Near, job: &Job) -> Result<Arc<Surface>, Cancelled> {
    // At a border of the scan neighbours are to one side only.
    let inner = |i: usize| near.around(i).len() == fair.adjacency().triangles_around(near.vertices[i]).len();
    let all: Vec<usize> = (0..near.count).filter(|i| inner(*i)).collect();
    let mut sheet = Sheet { fair: &fair, near, ways: fair.vertex_normals(), raised_mm: vec![0.0; near.vertices.len()] };
    let low = job.each(all.len(), |k| sheet.too_low(all[k], CREASED_MM))?;
    let mut active: Vec<usize> = all.iter().zip(low).filter(|(_, low)| *low > 0.0).map(|(i, _)| *i).collect();
    if active.is_empty() {
        return Ok(fair);
    }
    // Over the bottom of a hollow the normals themselves would meet.
    let ways = smooth_normals(&fair, near, job)?;
    sheet.ways = &ways;
    for _ in 0..ROUNDS {
        let low = job.each(active.len(), |k| sheet.too_low(active[k], LEAST_RADIUS_MM))?;
        let mut next = Vec::new();
        for (i, low) in active.iter().zip(low).filter(|(_, low)| *low > 0.0) {
            let before = sheet.raised_mm[*i];
            sheet.raised_mm[*i] = (before + SHARE * low).min(MOST_MM);
            if sheet.raised_mm[*i] > before {
                next.push(*i);
                next.extend(near.around(*i).iter().map(|w| *w as usize).filter(|w| *w < near.count && inner(*w)));
            }
        }
        if next.is_empty() {
            break;
        }
        next.sort_unstable();
        next.dedup();
        active = next;
    }
    let mut points = fair.mesh().points.clone();
    for (i, v) in near.vertices.iter().enumerate() {
        points[*v as usize] = sheet.place(i);
    }
    fair.with_points(points, job).map(Arc::new)
}

/// The skin as it is raised.
struct Sheet<'a> {
    fair: &'a Surface,
    near: &'a Near,
    /// Directions in which its vertices are raised.
    ways: &'a [Vector3<f32>],
    /// By how much, in the numbering of `near`.
    raised_mm: Vec<f32>,
}

impl Sheet<'_> {
    fn place(&self, i: usize) -> Point3<f32> {
        let v = self.near.vertices[i] as usize;
        self.fair.mesh().points[v] + self.ways[v] * self.raised_mm[i]
    }

    /// How far a vertex lies too low under its neighbours for a hollow of this radius, mm; 0 where it does not.
    ///
    /// A vertex whose neighbours are e away on average lies below their mean by e²/4 times the sum of its two principal
    /// curvatures (the mean over a circle of the second-order height, do Carmo 1976, 3-2); of a valley one of them is nought.
    fn too_low(&self, i: usize, radius_mm: f32) -> f32 {
        let own = self.place(i);
        let (mut sum, mut squares) = (Vector3::zeros(), 0.0);
        for w in self.near.around(i) {
            let way = self.place(*w as usize) - own;
            sum += way;
            squares += way.norm_squared();
        }
        let n = self.near.around(i).len().max(1) as f32;
        let low = sum.dot(&self.ways[self.near.vertices[i] as usize]) / n - squares / n / (4.0 * radius_mm);
        if low > LET_BE * (squares / n).sqrt() { low } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use mesh::Mesh;

    /// A sheet of 1 mm squares, 80 by 80 mm, with this profile along x.
    fn sheet(height: impl Fn(f32) -> f32) -> Surface {
        let (n, long) = (81_u32, 81_u32);
        let x = |i: u32| i as f32 - 40.0;
        let points = (0..long * n).map(|k| Point3::new(x(k % n), (k / n) as f32 - 40.0, height(x(k % n))));
        let squares = (0..long - 1).flat_map(|j| (0..n - 1).map(move |i| j * n + i));
        let triangles = squares.flat_map(|a| [[a, a + 1, a + n + 1], [a, a + n + 1, a + n]]).collect();
        Surface::new(Mesh::new(points.collect(), triangles))
    }

    /// Heights along the middle of a sheet, filled.
    fn profile(sheet: Surface) -> Vec<f32> {
        let near = Near::find(&sheet, &vec![10.0; sheet.mesh().points.len()]);
        let filled = filled(Arc::new(sheet), &near, &Job::silent()).unwrap();
        filled.mesh().points[40 * 81..41 * 81].iter().map(|p| p.z).collect()
    }

    #[test]
    fn a_valley_gets_a_round_bottom_of_the_set_radius() {
        // Sides at 12 degrees: the arc that touches both is r (1 / cos - 1) above the bottom in its middle.
        let slope = 12.0_f32.to_radians();
        let z = profile(sheet(|x| slope.tan() * x.abs()));
        assert_relative_eq!(z[40], LEAST_RADIUS_MM * (1.0 / slope.cos() - 1.0), epsilon = 0.06);
        for (k, h) in z.iter().enumerate().filter(|(k, _)| (10..=70).contains(k)) {
            let x = k as f32 - 40.0;
            let arc = LEAST_RADIUS_MM / slope.cos() - (LEAST_RADIUS_MM.powi(2) - x * x).max(0.0).sqrt();
            let touches = LEAST_RADIUS_MM * slope.sin();
            let expected = if x.abs() < touches { arc } else { slope.tan() * x.abs() };
            assert_relative_eq!(*h, expected, epsilon = 0.06);
        }
    }

    #[test]
    fn wide_hollows_and_bulges_stay() {
        for shape in [|x: f32| x * x / 80.0, |x: f32| -x * x / 20.0] {
            let z = profile(sheet(shape));
            for (k, h) in z.iter().enumerate() {
                assert_relative_eq!(*h, shape(k as f32 - 40.0), epsilon = 1e-3);
            }
        }
    }

    #[test]
    fn deep_clefts_are_not_filled_to_the_top() {
        let z = profile(sheet(|x| (8.0 * (x.abs() - 3.0)).clamp(-20.0, 0.0)));
        assert!(z[40] < -17.0, "{}", z[40]);
    }
}
