//! Spatial hashing: points near a place.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use nalgebra::Point3;

/// A set of points that answers which of them lie near a place.
///
/// Space is divided into cubes, and each point is entered in its own cube and the 26 around it: a question about
/// everything within one side looks at a single cube. Made for many more questions than points.
///
/// ```
/// use nalgebra::Point3;
/// let points = [0.0, 3.0, 9.0].map(|x| Point3::new(x, 0.0, 0.0));
/// let hash = mesh::SpatialHash::of(4.0, points);
/// assert_eq!(hash.within(&Point3::new(2.0, 0.0, 0.0), 2.5), [0, 1]);
/// assert_eq!(hash.within(&Point3::new(2.0, 0.0, 0.0), 7.0), [0, 1, 2]);
/// ```
#[derive(Debug, Clone)]
pub struct SpatialHash {
    side: f32,
    /// Only ever looked up by cube, so the order of the map is never seen.
    near: HashMap<[i32; 3], Vec<u32>, BuildHasherDefault<CubeHasher>>,
    points: Vec<Point3<f32>>,
}

/// Farthest cube from the origin: points beyond it share the last one, and its neighbours still have a number.
const FARTHEST: f32 = 1e9;

/// Where a reach spans more cubes than this, every point is tested.
const MOST_RINGS: i32 = 30;

impl SpatialHash {
    /// An empty set of cubes with sides of `side`, at least a thousandth.
    #[must_use]
    pub fn new(side: f32) -> Self {
        Self { side: side.max(1e-3), near: HashMap::default(), points: Vec::new() }
    }

    /// A set of these points, numbered as they come.
    #[must_use]
    pub fn of(side: f32, points: impl IntoIterator<Item = Point3<f32>>) -> Self {
        let mut hash = Self::new(side);
        points.into_iter().for_each(|p| hash.add(p));
        hash
    }

    /// Adds a point under the next number. One that is not finite is counted, but never near anything.
    pub fn add(&mut self, point: Point3<f32>) {
        let number = self.points.len() as u32;
        self.points.push(point);
        if point.iter().all(|x| x.is_finite()) {
            let [x, y, z] = self.cube(&point);
            for k in 0..27 {
                self.near.entry([x + k / 9 - 1, y + k / 3 % 3 - 1, z + k % 3 - 1]).or_default().push(number);
            }
        }
    }

    /// Some points, in rising order, with all that lie within one side of `place` among them.
    pub fn candidates(&self, place: &Point3<f32>) -> impl Iterator<Item = u32> + '_ {
        self.near.get(&self.cube(place)).into_iter().flatten().copied()
    }

    /// All points at most `reach` from `place`, in rising order; meant for a `reach` of a few sides.
    #[must_use]
    pub fn within(&self, place: &Point3<f32>, reach: f32) -> Vec<usize> {
        let near = |n: &u32| (self.points[*n as usize] - place).norm_squared() <= reach * reach;
        let rings = (reach / self.side).ceil() as i32;
        if rings <= 1 {
            return self.candidates(place).filter(near).map(|n| n as usize).collect();
        }
        if rings > MOST_RINGS {
            return (0..self.points.len() as u32).filter(near).map(|n| n as usize).collect();
        }
        // Each entry covers three cubes a side, so every third is looked at, and none is met twice.
        let cube = self.cube(place);
        let blocks = (rings + 1) / 3;
        let mut found = Vec::new();
        for i in -blocks..=blocks {
            for j in -blocks..=blocks {
                for k in -blocks..=blocks {
                    let block = [cube[0] + 3 * i, cube[1] + 3 * j, cube[2] + 3 * k];
                    found.extend(self.near.get(&block).into_iter().flatten().filter(|n| near(n)).map(|n| *n as usize));
                }
            }
        }
        found.sort_unstable();
        found
    }

    /// Distance to the nearest point, where one is at most `reach` away.
    #[must_use]
    pub fn distance(&self, place: &Point3<f32>, reach: f32) -> Option<f32> {
        let away = |n: usize| (self.points[n] - place).norm();
        self.within(place, reach).into_iter().map(away).min_by(f32::total_cmp)
    }

    fn cube(&self, p: &Point3<f32>) -> [i32; 3] {
        [p.x, p.y, p.z].map(|c| (c / self.side).floor().clamp(-FARTHEST, FARTHEST) as i32)
    }
}

/// Multiplies and rotates: fast, as it is asked millions of times; nobody chooses cubes so that they collide.
#[derive(Debug, Clone, Default)]
struct CubeHasher(u64);

impl Hasher for CubeHasher {
    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 29)
    }

    fn write(&mut self, bytes: &[u8]) {
        for part in bytes.chunks(4) {
            let word = part.iter().rev().fold(0_u64, |w, b| (w << 8) | u64::from(*b));
            self.0 = (self.0.rotate_left(21) ^ word).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_the_same_points_as_looking_at_all() {
        let points: Vec<_> = (0..500)
            .map(|i| i as f32)
            .map(|i| Point3::new((i * 0.37).sin() * 30.0, (i * 1.7).cos() * 30.0, i * 0.1))
            .collect();
        let hash = SpatialHash::of(4.0, points.iter().copied());
        for (i, p) in points.iter().enumerate().step_by(17) {
            for reach in [2.0, 4.0, 7.9, 11.0, 25.0, 500.0] {
                let all: Vec<_> = (0..500).filter(|j| (points[*j] - p).norm_squared() <= reach * reach).collect();
                assert_eq!(hash.within(p, reach), all, "point {i}, reach {reach}");
                let nearest = all.iter().map(|j| (points[*j] - p).norm()).min_by(f32::total_cmp);
                assert_eq!(hash.distance(p, reach), nearest);
            }
            let near: Vec<_> = hash.candidates(p).collect();
            assert!(near.is_sorted() && hash.within(p, 4.0).iter().all(|n| near.contains(&(*n as u32))));
        }
    }

    #[test]
    fn far_infinite_and_missing_numbers_do_no_harm() {
        let far = Point3::new(f32::MAX, -f32::MAX, 1e22);
        let none = Point3::new(f32::NAN, f32::INFINITY, 0.0);
        let hash = SpatialHash::of(0.0, [far, none, Point3::origin()]);
        assert_eq!(hash.within(&Point3::origin(), 1.0), [2]);
        assert_eq!(hash.within(&far, 0.0), [0]);
        assert!(hash.within(&none, 1.0).is_empty());
        assert!(hash.within(&far, f32::MAX).contains(&0));
    }
}
