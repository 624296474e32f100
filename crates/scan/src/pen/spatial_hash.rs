//! A spatial hash: points by the cube of a uniform grid that they lie in, to find those near by.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use nalgebra::Point3;

/// For each cube the numbers of the points in it and in the 26 around it, in the order in which they came.
/// Only ever looked up by cube, so the order of the map is never seen.
pub(super) struct SpatialHash {
    side_mm: f32,
    near: HashMap<[i32; 3], Vec<u32>, BuildHasherDefault<CubeHasher>>,
}

impl SpatialHash {
    /// Cubes of the given side; [`SpatialHash::around`] finds all points within that distance.
    pub fn new(side_mm: f32) -> Self {
        Self { side_mm: side_mm.max(1e-3), near: HashMap::default() }
    }

    pub fn of<'p>(side_mm: f32, points: impl Iterator<Item = &'p Point3<f32>>) -> Self {
        let mut hash = Self::new(side_mm);
        for (i, p) in points.enumerate() {
            hash.add(p, i as u32);
        }
        hash
    }

    pub fn add(&mut self, p: &Point3<f32>, number: u32) {
        let [x, y, z] = self.cube(p);
        for k in 0..27 {
            self.near.entry([x + k / 9 - 1, y + k / 3 % 3 - 1, z + k % 3 - 1]).or_default().push(number);
        }
    }

    /// A superset of the points within one side of `p`.
    pub fn around(&self, p: &Point3<f32>) -> impl Iterator<Item = u32> + '_ {
        self.near.get(&self.cube(p)).into_iter().flatten().copied()
    }

    fn cube(&self, p: &Point3<f32>) -> [i32; 3] {
        // Half the range of i32, so that the neighbours of a far cube still have a number.
        [p.x, p.y, p.z].map(|c| (c / self.side_mm).floor().clamp(-1e9, 1e9) as i32)
    }
}

/// Multiplies and turns; nobody chooses cubes to make it slow, and it is asked millions of times.
#[derive(Default)]
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
