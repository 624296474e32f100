//! Nearest point: a leaf that is about as near as any, then all boxes that may hold something nearer.

use nalgebra::{Point3, Vector3};
use wide::f32x4;

use super::tree::{Node, WIDTH, four, lanes_of};
use super::{Bvh, Hit, TriangleFeature};
use crate::four::{LEAF, spread};

/// Squared distance up to which boxes are opened when `best` is the least found: somewhat more than `best`, so that
/// rounding and ties never let the seed change the answer.
#[inline(always)]
fn reach(best: f32) -> f32 {
    best * (1.0 + 1e-5) + 1e-6
}

impl Node {
    /// Squared distance from a point to the four boxes.
    #[inline(always)]
    fn distance2(&self, p: f32x4) -> f32x4 {
        let p = lanes_of(self.axes.image(p));
        let mut sum = f32x4::ZERO;
        for ((p, lo), hi) in p.into_iter().zip(&self.lo).zip(&self.hi) {
            let outside = (*lo - p).fast_max(p - *hi).fast_max(f32x4::ZERO);
            sum += outside * outside;
        }
        sum
    }
}

impl Bvh {
    /// The nearest point to `p`; see [`crate::Surface::nearest`].
    #[must_use]
    pub fn nearest(&self, p: &Point3<f32>, seed: Option<u32>) -> Option<Hit> {
        if self.nodes.is_empty() {
            return None;
        }
        let (at, place) = (spread(p), four(p));
        // The seed's whole leaf costs no more to measure than the seed alone and gives a tighter bound.
        let first = seed.map_or_else(|| self.leaf_towards(place), |t| self.slot[t as usize] as usize / LEAF * LEAF);
        let (mut best, mut best_slot) = (f32::INFINITY, first);
        self.measure(&at, first, LEAF.min(self.order.len() - first), &mut best, &mut best_slot);
        // Each node frees one entry and pushes at most four: enough for a depth of thirty.
        let mut stack = [(0.0_f32, 0_i32); 96];
        let mut top = 1;
        while top > 0 {
            top -= 1;
            let (bound, number) = stack[top];
            if bound > reach(best) {
                continue;
            }
            let node = &self.nodes[number as usize];
            let d = node.distance2(place);
            let mut open = d.simd_le(f32x4::splat(reach(best))).to_bitmask();
            let d = d.to_array();
            // With a bound that tight, to look at the nearest box first would save nothing.
            while open != 0 {
                let i = open.trailing_zeros() as usize;
                open &= open - 1;
                if d[i] > reach(best) {
                    continue;
                }
                if node.count[i] > 0 {
                    let first = !node.child[i] as usize;
                    self.measure(&at, first, node.count[i] as usize, &mut best, &mut best_slot);
                } else if node.child[i] > 0 {
                    // An unused child has an empty box, which only a distance of infinity reaches.
                    stack[top] = (d[i], node.child[i]);
                    top += 1;
                }
            }
        }
        Some(hit_on(p, self.order[best_slot], &self.corners[best_slot]))
    }

    /// First slot of the leaf found by going into the nearest box of each node.
    fn leaf_towards(&self, place: f32x4) -> usize {
        let mut number = 0;
        loop {
            let node = &self.nodes[number];
            let d = node.distance2(place).to_array();
            let used = (0..WIDTH).filter(|i| node.count[*i] > 0 || node.child[*i] > 0);
            match used.min_by(|i, j| d[*i].total_cmp(&d[*j])) {
                Some(i) if node.count[i] == 0 => number = node.child[i] as usize,
                Some(i) => return !node.child[i] as usize,
                None => return 0,
            }
        }
    }

    /// Measures the `count` triangles from slot `first`, where a leaf starts, and keeps the nearest.
    #[inline(always)]
    fn measure(&self, p: &[f32x4; 3], first: usize, count: usize, best: &mut f32, best_slot: &mut usize) {
        // Leaves start at multiples of their size.
        let distances = self.groups[first / LEAF].distance2(p);
        let mut closer = distances.simd_le(f32x4::splat(*best)).to_bitmask() & ((1 << count) - 1);
        let distances = distances.to_array();
        while closer != 0 {
            let lane = closer.trailing_zeros() as usize;
            closer &= closer - 1;
            let d = distances[lane];
            // On a tie the lower triangle number wins, so that seeds never change the answer.
            if d < *best || (d == *best && self.order[first + lane] < self.order[*best_slot]) {
                *best = d;
                *best_slot = first + lane;
            }
        }
    }
}

pub(crate) fn hit_on(p: &Point3<f32>, triangle: u32, corners: &[Point3<f32>; 3]) -> Hit {
    let (point, weights, feature) = closest(p, corners);
    Hit { triangle, point, weights, distance2: (p - point).norm_squared(), feature }
}

/// Closest point of a triangle (Ericson, "Real-Time Collision Detection", 2005, section 5.1.5).
#[inline]
fn closest(p: &Point3<f32>, [a, b, c]: &[Point3<f32>; 3]) -> (Point3<f32>, [f32; 3], TriangleFeature) {
    use TriangleFeature::{Edge, Face, Vertex};
    let (ab, ac): (Vector3<f32>, Vector3<f32>) = (b - a, c - a);
    let ap = p - a;
    let (d1, d2) = (ab.dot(&ap), ac.dot(&ap));
    if d1 <= 0.0 && d2 <= 0.0 {
        return (*a, [1.0, 0.0, 0.0], Vertex(0));
    }
    let bp = p - b;
    let (d3, d4) = (ab.dot(&bp), ac.dot(&bp));
    if d3 >= 0.0 && d4 <= d3 {
        return (*b, [0.0, 1.0, 0.0], Vertex(1));
    }
    let cp = p - c;
    let (d5, d6) = (ab.dot(&cp), ac.dot(&cp));
    if d6 >= 0.0 && d5 <= d6 {
        return (*c, [0.0, 0.0, 1.0], Vertex(2));
    }
    let vc = d1 * d4 - d3 * d2;
    if vc <= 0.0 && d1 >= 0.0 && d3 <= 0.0 {
        let v = d1 / (d1 - d3);
        return (a + ab * v, [1.0 - v, v, 0.0], Edge(0));
    }
    let vb = d5 * d2 - d1 * d6;
    if vb <= 0.0 && d2 >= 0.0 && d6 <= 0.0 {
        let w = d2 / (d2 - d6);
        return (a + ac * w, [1.0 - w, 0.0, w], Edge(2));
    }
    let va = d3 * d6 - d5 * d4;
    if va <= 0.0 && d4 - d3 >= 0.0 && d5 - d6 >= 0.0 {
        let w = (d4 - d3) / ((d4 - d3) + (d5 - d6));
        return (b + (c - b) * w, [0.0, 1.0 - w, w], Edge(1));
    }
    let scale = 1.0 / (va + vb + vc);
    let (v, w) = (vb * scale, vc * scale);
    (a + ab * v + ac * w, [1.0 - v - w, v, w], Face)
}

#[cfg(test)]
mod tests {
    use super::super::bumpy;
    use super::*;
    use parry3d::math::Vec3;
    use parry3d::query::PointQuery;
    use parry3d::shape::TriMesh;
    use proptest::prelude::*;

    #[test]
    fn distances_that_overflow_lead_to_no_unused_child() {
        for n in 1..200_u32 {
            let points = (0..3 * n).map(|i| Point3::new(1e22, (i % 7) as f32 * 1e19, (i % 11) as f32 * 1e20)).collect();
            let mesh = crate::Mesh::new(points, (0..n).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]).collect());
            assert!(Bvh::new(&mesh).nearest(&Point3::origin(), None).is_some());
        }
    }

    proptest! {
        /// Reference: parry3d's own nearest point on the same triangles.
        #[test]
        fn agrees_with_parry(x in -10.0_f32..50.0, y in -10.0_f32..40.0, z in -15.0_f32..15.0, seed in 0_u32..2262) {
            let mesh = bumpy();
            let index = Bvh::new(&mesh);
            let p = Point3::new(x, y, z);
            let plain = index.nearest(&p, None).unwrap();
            let seeded = index.nearest(&p, Some(seed)).unwrap();
            prop_assert_eq!(plain, seeded);
            let reference = TriMesh::new(
                mesh.points.iter().map(|p| Vec3::new(p.x, p.y, p.z)).collect(),
                mesh.triangles.clone(),
            ).unwrap();
            let there = reference.project_local_point(Vec3::new(x, y, z), false).point;
            let d = (Vec3::new(x, y, z) - there).length();
            prop_assert!((plain.distance2.sqrt() - d).abs() < 1e-4, "{} against {d}", plain.distance2.sqrt());
        }
    }
}
