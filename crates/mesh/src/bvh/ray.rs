//! The first triangle along a ray.

use nalgebra::{Point3, Vector3};

use super::sheared::{Crossing, Ray};
use super::{Bvh, Hit, TriangleFeature};

/// A crossing found so far, and in which slot.
struct RayHit {
    along: f64,
    slot: usize,
    weights: [f64; 3],
}

impl Bvh {
    /// The first point along a ray; see [`crate::Surface::ray`].
    #[must_use]
    pub fn ray(&self, origin: &Point3<f32>, direction: &Vector3<f32>, furthest_mm: f32) -> Option<Hit> {
        self.first::<false>(origin, direction, furthest_mm)
    }

    /// The first point at which a ray leaves what the surface encloses: as [`Bvh::ray`], but triangles that face the
    /// start of the ray are passed over. From a point on a closed surface that faces outward, inward, it gives the
    /// thickness there, and rounding of that point can not make the ray meet the triangle that it starts on.
    #[must_use]
    pub fn exit(&self, origin: &Point3<f32>, direction: &Vector3<f32>, furthest_mm: f32) -> Option<Hit> {
        self.first::<true>(origin, direction, furthest_mm)
    }

    fn first<const LEAVING: bool>(
        &self,
        origin: &Point3<f32>,
        direction: &Vector3<f32>,
        furthest_mm: f32,
    ) -> Option<Hit> {
        let ray = Ray::new(origin, direction)?;
        if self.nodes.is_empty() || furthest_mm.is_nan() {
            return None;
        }
        let mut found: Option<RayHit> = None;
        let mut best = furthest_mm;
        // Each node frees one entry and pushes at most four: enough for a depth of thirty.
        let mut stack = [(0.0_f32, 0_i32); 96];
        let mut top = 1;
        while top > 0 {
            top -= 1;
            let (enters, number) = stack[top];
            if enters > reach(best) {
                continue;
            }
            let node = &self.nodes[number as usize];
            let (near, mut open) = ray.enters(node, reach(best));
            let near = near.to_array();
            // Farthest first on the stack, so that the nearest child is opened next.
            let bottom = top;
            while open != 0 {
                let i = open.trailing_zeros() as usize;
                open &= open - 1;
                if node.count[i] > 0 {
                    let first = !node.child[i] as usize;
                    self.cross::<LEAVING>(&ray, furthest_mm, first..first + usize::from(node.count[i]), &mut found);
                    best = found.as_ref().map_or(best, |f| f.along as f32);
                    continue;
                }
                if node.child[i] <= 0 {
                    continue;
                }
                let mut j = top;
                while j > bottom && stack[j - 1].0 < near[i] {
                    stack[j] = stack[j - 1];
                    j -= 1;
                }
                stack[j] = (near[i], node.child[i]);
                top += 1;
            }
        }
        found.map(|f| self.hit_by(&f))
    }

    /// Tries the triangles of a leaf and keeps the nearest crossing; of two in one place, the lower triangle number.
    #[inline(always)]
    fn cross<const LEAVING: bool>(
        &self,
        ray: &Ray,
        furthest_mm: f32,
        slots: std::ops::Range<usize>,
        found: &mut Option<RayHit>,
    ) {
        for slot in slots {
            let Some(Crossing { along, weights, leaves }) = ray.crosses(&self.corners[slot]) else { continue };
            if (LEAVING && !leaves) || along < 0.0 || along > f64::from(furthest_mm) {
                continue;
            }
            let nearer = found
                .as_ref()
                .is_none_or(|f| along < f.along || (along == f.along && self.order[slot] < self.order[f.slot]));
            if nearer {
                *found = Some(RayHit { along, slot, weights });
            }
        }
    }

    fn hit_by(&self, crossing: &RayHit) -> Hit {
        let [a, b, c] = self.corners[crossing.slot].map(|p| p.coords.cast::<f64>());
        let w = crossing.weights;
        let point = Point3::from(a * w[0] + b * w[1] + c * w[2]).cast();
        let feature = match w.map(|w| w == 0.0) {
            [true, true, _] => TriangleFeature::Vertex(2),
            [true, _, true] => TriangleFeature::Vertex(1),
            [_, true, true] => TriangleFeature::Vertex(0),
            [true, ..] => TriangleFeature::Edge(1),
            [_, true, _] => TriangleFeature::Edge(2),
            [.., true] => TriangleFeature::Edge(0),
            _ => TriangleFeature::Face,
        };
        Hit {
            triangle: self.order[crossing.slot],
            point,
            weights: w.map(|w| w as f32),
            distance2: (crossing.along * crossing.along) as f32,
            feature,
        }
    }
}

/// How far boxes are opened when the nearest crossing is at `best`: a little more, so that rounding and ties never let
/// the order of boxes change the answer.
#[inline(always)]
fn reach(best: f32) -> f32 {
    best * (1.0 + 1e-6) + 1e-6
}

#[cfg(test)]
mod tests {
    use super::super::bumpy;
    use super::*;
    use crate::Mesh;
    use parry3d::math::Vec3;
    use parry3d::query::{Ray as ParryRay, RayCast};
    use parry3d::shape::TriMesh;
    use proptest::prelude::*;
    use test_shapes::uv_sphere;

    fn parry(mesh: &Mesh) -> TriMesh {
        TriMesh::new(mesh.points.iter().map(|p| Vec3::new(p.x, p.y, p.z)).collect(), mesh.triangles.clone()).unwrap()
    }

    proptest! {
        /// Reference: parry3d's ray cast on the same triangles.
        #[test]
        fn agrees_with_parry(
            from in [-20.0_f32..60.0, -20.0_f32..50.0, -30.0_f32..30.0],
            to in [0.0_f32..39.0, 0.0_f32..29.0, -5.0_f32..5.0],
        ) {
            let mesh = bumpy();
            let (from, to) = (Point3::from(from), Point3::from(to));
            let way = (to - from).normalize();
            let reference = parry(&mesh);
            let ray = ParryRay::new(Vec3::new(from.x, from.y, from.z), Vec3::new(way.x, way.y, way.z));
            let theirs = reference.cast_local_ray(&ray, 200.0, false);
            let ours = Bvh::new(&mesh).ray(&from, &way, 200.0);
            prop_assert_eq!(ours.is_some(), theirs.is_some());
            if let (Some(ours), Some(theirs)) = (ours, theirs) {
                prop_assert!((ours.distance2.sqrt() - theirs).abs() < 1e-3, "{ours:?} against {theirs}");
                prop_assert!((ours.point - (from + way * theirs)).norm() < 1e-3);
            }
        }

        /// No ray from inside a closed surface escapes, even when aimed exactly at a vertex or an edge.
        #[test]
        fn nothing_slips_through_a_closed_surface(
            from in [-5.0_f32..5.0, -5.0_f32..5.0, -5.0_f32..5.0],
            away in [-300.0_f32..300.0, -300.0_f32..300.0, -300.0_f32..300.0],
        ) {
            let mut mesh: Mesh = uv_sphere(20.0, 24).build();
            for p in &mut mesh.points {
                *p += Vector3::from(away);
            }
            let index = Bvh::new(&mesh);
            let from = Point3::from(from) + Vector3::from(away);
            for t in 0..mesh.triangles.len() {
                let [a, b, c] = mesh.corners(t);
                for to in [a, nalgebra::center(&a, &b), nalgebra::center(&b, &c), nalgebra::center(&c, &a)] {
                    let hit = index.ray(&from, &(to - from), f32::INFINITY);
                    prop_assert!(hit.is_some_and(|h| (h.point - to).norm() < 0.01), "{to} from {from}: {hit:?}");
                }
            }
        }
    }

    #[test]
    fn either_side_of_a_triangle_is_hit_and_nothing_behind_or_beyond() {
        let p = |x: f32, y: f32| Point3::new(x, y, 0.0);
        // Two triangles in one place, the other way round: the lower number wins on both sides.
        let mesh = Mesh::new(vec![p(0., 0.), p(4., 0.), p(0., 4.)], vec![[0, 1, 2], [0, 2, 1]]);
        let index = Bvh::new(&mesh);
        for z in [3.0_f32, -3.0] {
            let from = Point3::new(1.0, 1.0, z);
            let to = Vector3::new(0.0, 0.0, -z);
            let hit = index.ray(&from, &to, 3.0).unwrap();
            assert_eq!((hit.triangle, hit.distance2, hit.point), (0, 9.0, p(1.0, 1.0)));
            assert_eq!(hit.weights, [0.5, 0.25, 0.25]);
            assert!(index.ray(&from, &to, 2.999).is_none(), "beyond");
            assert!(index.ray(&from, &-to, 99.0).is_none(), "behind");
            let corner = index.ray(&Point3::new(4.0, 0.0, z), &to, 9.0).unwrap();
            assert_eq!(corner.feature, TriangleFeature::Vertex(1));
            let side = index.ray(&Point3::new(2.0, 2.0, z), &to, 9.0).unwrap();
            assert_eq!(side.feature, TriangleFeature::Edge(1));
        }
        assert!(index.ray(&Point3::origin(), &Vector3::zeros(), 9.0).is_none());
        assert!(index.ray(&Point3::new(f32::NAN, 0.0, 0.0), &Vector3::x(), 9.0).is_none());
        assert!(Bvh::new(&Mesh::default()).ray(&Point3::origin(), &Vector3::x(), 9.0).is_none());
    }

    /// A sphere's first crossing by its equation, within the sag of its facets.
    #[test]
    fn a_ball_is_hit_where_its_equation_says() {
        let index = Bvh::new(&uv_sphere(20.0, 360).build());
        for k in 0..200 {
            let a = k as f32 * 0.61;
            let from = Point3::new(60.0 * a.cos(), 60.0 * a.sin(), 30.0 * (0.37 * a).sin());
            let to = Point3::new(12.0 * (1.3 * a).sin(), 12.0 * (1.7 * a).cos(), 9.0 * (2.1 * a).sin());
            let way = (to - from).normalize();
            let half = -from.coords.dot(&way);
            let exact = half - (half * half - from.coords.norm_squared() + 400.0).sqrt();
            let hit = index.ray(&from, &way, 500.0).unwrap();
            assert!((hit.distance2.sqrt() - exact).abs() < 0.02, "{} for {exact}", hit.distance2.sqrt());
        }
    }

    /// A sphere's second crossing by its equation, along all axes both ways and askew.
    #[test]
    fn a_ball_is_left_where_its_equation_says_whichever_way_the_ray_runs() {
        let index = Bvh::new(&uv_sphere(20.0, 360).build());
        let ways = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [0.6, -0.3, 0.2], [-0.2, 0.5, 0.6]];
        for way in ways.iter().flat_map(|w| [Vector3::from(*w), -Vector3::from(*w)]) {
            let through = Point3::new(3.0, -4.0, 5.0);
            let way = way.normalize();
            let half = -through.coords.dot(&way);
            let root = (half * half - 50.0 + 400.0_f32).sqrt();
            for back in [0.0, 60.0] {
                let exit = index.exit(&(through - back * way), &way, 500.0).unwrap();
                assert!((exit.distance2.sqrt() - (half + root + back)).abs() < 0.02, "{way}: {exit:?}");
            }
            assert!(index.exit(&(through + 60.0 * way), &way, 500.0).is_none(), "nothing is left out there");
        }
    }
}
