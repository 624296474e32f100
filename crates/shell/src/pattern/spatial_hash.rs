//! Which of many points lie near a place.

use nalgebra::Point3;

/// Points sorted into cubes, so that a question looks at 27 cubes only.
#[derive(Debug, Clone)]
pub struct SpatialHash {
    side: f32,
    cubes: std::collections::BTreeMap<[i32; 3], Vec<u32>>,
    points: Vec<Point3<f32>>,
}

impl SpatialHash {
    /// An empty set that answers for distances up to `reach_mm`.
    pub fn new(reach_mm: f32) -> Self {
        Self { side: reach_mm.max(0.1), cubes: std::collections::BTreeMap::new(), points: Vec::new() }
    }

    /// A set of these points, numbered as they come.
    pub fn of(points: impl IntoIterator<Item = Point3<f32>>, reach_mm: f32) -> Self {
        let mut near = Self::new(reach_mm);
        points.into_iter().for_each(|p| near.add(p));
        near
    }

    /// Adds a point under the next number.
    pub fn add(&mut self, point: Point3<f32>) {
        self.cubes.entry(self.cube(&point)).or_default().push(self.points.len() as u32);
        self.points.push(point);
    }

    /// Numbers of all points at most `reach_mm` from `place`, in rising order.
    pub fn within(&self, place: &Point3<f32>, reach_mm: f32) -> Vec<usize> {
        let rings = (reach_mm / self.side).ceil().clamp(1.0, 64.0) as i32;
        let [x, y, z] = self.cube(place);
        let mut found = Vec::new();
        for i in x.saturating_sub(rings)..=x.saturating_add(rings) {
            for j in y.saturating_sub(rings)..=y.saturating_add(rings) {
                let row = [i, j, z.saturating_sub(rings)]..=[i, j, z.saturating_add(rings)];
                for (_, inside) in self.cubes.range(row) {
                    found.extend(
                        inside
                            .iter()
                            .map(|n| *n as usize)
                            .filter(|n| (self.points[*n] - place).norm_squared() <= reach_mm * reach_mm),
                    );
                }
            }
        }
        found.sort_unstable();
        found
    }

    fn cube(&self, p: &Point3<f32>) -> [i32; 3] {
        [p.x, p.y, p.z].map(|c| (c / self.side).floor() as i32)
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
        let near = SpatialHash::of(points.iter().copied(), 4.0);
        for (i, p) in points.iter().enumerate().step_by(17) {
            for reach in [2.0, 4.0, 11.0] {
                let all: Vec<_> = (0..500).filter(|j| (points[*j] - p).norm() <= reach).collect();
                assert_eq!(near.within(p, reach), all, "point {i}, reach {reach}");
            }
        }
    }
}
