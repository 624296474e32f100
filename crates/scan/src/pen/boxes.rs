//! Points sorted into cubes, to find those near by.

use std::collections::HashMap;

use nalgebra::Point3;

/// Numbers of points by the cube they lie in. Only ever looked up by cube, so the order of the map is never seen.
pub(super) struct Boxes {
    side_mm: f32,
    cubes: HashMap<[i32; 3], Vec<u32>>,
}

impl Boxes {
    /// Cubes of the given side; [`Boxes::around`] finds all points within that distance.
    pub fn new(side_mm: f32) -> Self {
        Self { side_mm: side_mm.max(1e-3), cubes: HashMap::new() }
    }

    pub fn of<'p>(side_mm: f32, points: impl Iterator<Item = &'p Point3<f32>>) -> Self {
        let mut boxes = Self::new(side_mm);
        for (i, p) in points.enumerate() {
            boxes.add(p, i as u32);
        }
        boxes
    }

    pub fn add(&mut self, p: &Point3<f32>, number: u32) {
        self.cubes.entry(self.cube(p)).or_default().push(number);
    }

    /// All points in the cube of `p` and the 26 around it, in a fixed order: a superset of those within one side.
    pub fn around(&self, p: &Point3<f32>) -> impl Iterator<Item = u32> + '_ {
        let [x, y, z] = self.cube(p);
        (0..27)
            .filter_map(move |k| self.cubes.get(&[x + k / 9 - 1, y + k / 3 % 3 - 1, z + k % 3 - 1]))
            .flatten()
            .copied()
    }

    fn cube(&self, p: &Point3<f32>) -> [i32; 3] {
        // Half the range of i32, so that the neighbours of a far cube still have a number.
        [p.x, p.y, p.z].map(|c| (c / self.side_mm).floor().clamp(-1e9, 1e9) as i32)
    }
}
