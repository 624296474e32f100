//! The convex hull of a part and the flat sides on which it can lie.

use mesh::Mesh;
use nalgebra::Vector3;
use parry3d::math::Vec3;
use parry3d::transformation::try_convex_hull;

/// Facets of the hull whose normals differ by less than this make one side: the rim of a guard is not quite flat.
const FLAT_DEG: f64 = 4.0;
/// Least share of the hull's area that makes a side to lie on.
const LEAST_SHARE: f64 = 0.01;
/// Most sides that are considered, the largest first.
const MOST_SIDES: usize = 24;

/// The convex hull of a part.
pub(crate) struct Hull {
    /// Corners, mm.
    pub points: Vec<Vector3<f64>>,
    facets: Vec<[u32; 3]>,
}

impl Hull {
    /// None for a part without points. Where it has no solid hull, as for points on a line: all points and no sides.
    pub fn of(part: &Mesh) -> Option<Self> {
        let all: Vec<Vec3> = part.points.iter().map(|p| Vec3::new(p.x, p.y, p.z)).collect();
        if all.is_empty() {
            return None;
        }
        let (points, facets) = try_convex_hull(&all).unwrap_or((all, Vec::new()));
        Some(Self { points: points.into_iter().map(|p| Vector3::new(p.x, p.y, p.z).cast()).collect(), facets })
    }

    /// Outward unit normals of the flat sides, the largest side first.
    pub fn sides(&self) -> Vec<Vector3<f64>> {
        // Area vectors: along the normal, as long as the area.
        let mut facets: Vec<Vector3<f64>> = self
            .facets
            .iter()
            .map(|f| f.map(|v| self.points[v as usize]))
            .map(|[a, b, c]| 0.5 * (b - a).cross(&(c - a)))
            .filter(|area| area.norm() > 0.0)
            .collect();
        facets.sort_by(|a, b| b.norm_squared().total_cmp(&a.norm_squared()));
        let whole: f64 = facets.iter().map(Vector3::norm).sum();
        let mut sides: Vec<(Vector3<f64>, Vector3<f64>)> = Vec::new();
        let flat = FLAT_DEG.to_radians().cos();
        for area in facets {
            let normal = area.normalize();
            match sides.iter_mut().find(|(largest, _)| largest.dot(&normal) > flat) {
                Some((_, sum)) => *sum += area,
                None => sides.push((normal, area)),
            }
        }
        let mut sums: Vec<Vector3<f64>> =
            sides.into_iter().map(|(_, sum)| sum).filter(|sum| sum.norm() > LEAST_SHARE * whole).collect();
        sums.sort_by(|a, b| b.norm_squared().total_cmp(&a.norm_squared()));
        sums.truncate(MOST_SIDES);
        sums.into_iter().map(|sum| sum.normalize()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_box_has_its_six_sides_the_largest_first_and_what_is_inside_counts_for_nothing() {
        let body: Mesh = test_shapes::cuboid([30.0, 20.0, 10.0])
            .and(&test_shapes::icosphere(4.0, 2).moved([15.0, 10.0, 5.0]))
            .build();
        let hull = Hull::of(&body).unwrap();
        assert_eq!(hull.points.len(), 8);
        let sides = hull.sides();
        let axes: Vec<usize> = sides.iter().map(Vector3::iamax).collect();
        assert_eq!(axes, [2, 2, 1, 1, 0, 0]);
        assert!(sides.iter().all(|side| (side.amax() - 1.0).abs() < 1e-6), "{sides:?}");
        assert!(sides.chunks(2).all(|pair| (pair[0] + pair[1]).norm() < 1e-6), "{sides:?}");
    }

    #[test]
    fn half_a_tube_lies_best_on_its_open_side() {
        let half: Mesh = test_shapes::tube(40.0, [0.0, 200.0], 90, 20).mapped(|[x, y, z]| [x, y.max(0.0), z]).build();
        let down = Hull::of(&half).unwrap().sides()[0];
        assert!((down + Vector3::y()).norm() < 1e-6, "{down}");
    }

    #[test]
    fn what_has_no_room_inside_has_no_sides_to_lie_on() {
        let line = Mesh::new((0..5_u8).map(|i| nalgebra::Point3::new(f32::from(i), 0.0, 0.0)).collect(), vec![]);
        let hull = Hull::of(&line).unwrap();
        assert!(hull.sides().is_empty() && !hull.points.is_empty());
        assert!(Hull::of(&Mesh::default()).is_none());
    }
}
