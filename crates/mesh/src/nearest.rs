//! Nearest point of a mesh: a bounding-volume tree with four boxes a node and seeded descent.

use nalgebra::{Point3, Vector3};
use wide::f32x4;

use crate::Mesh;
use crate::four::{FourTriangles, LEAF, spread};

/// What part of a triangle is nearest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TriangleFeature {
    /// The inside of the triangle.
    Inside,
    /// Side `k`, from corner `k` to corner `k + 1`.
    Edge(u8),
    /// Corner `k`.
    Vertex(u8),
}

/// The nearest point of a surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hit {
    /// Triangle that holds the point.
    pub triangle: u32,
    /// The point itself.
    pub point: Point3<f32>,
    /// Barycentric weights of the triangle's corners; they add up to one.
    pub weights: [f32; 3],
    /// Square of the distance.
    pub distance2: f32,
    /// Triangle, side or corner.
    pub feature: TriangleFeature,
}

const WIDTH: usize = 4;
/// Triangles under a node below which its frame is turned.
const TURNED: usize = 256;
/// Share of the coordinates by which boxes are wider than they look, for rounding.
const SLACK: f32 = 1e-6;

/// Squared distance up to which boxes are opened when `best` is the least found: somewhat more than `best`, so that
/// rounding and ties never let the seed change the answer.
#[inline(always)]
fn reach(best: f32) -> f32 {
    best * (1.0 + 1e-5) + 1e-6
}

/// Four child boxes side by side, so that one pass over an array tests them all.
///
/// The boxes stand in a frame of the node's own, with one axis along the mean normal of its triangles: on a slanting
/// surface they are much thinner than boxes along the axes of space.
#[derive(Debug, Clone, Copy)]
struct Node {
    frame: Frame,
    lo: [f32x4; 3],
    hi: [f32x4; 3],
    /// Index of the child node, or `!first` triangle slot for a leaf; unused children have an empty box.
    child: [i32; WIDTH],
    /// Triangles in a leaf child, 0 for an inner child.
    count: [u8; WIDTH],
}

/// A turned frame: the image of a point `p` is the columns times `p - origin`.
#[derive(Debug, Clone, Copy)]
struct Frame {
    origin: f32x4,
    columns: [f32x4; 3],
}

impl Frame {
    /// A frame at `origin` with its third axis along `normal`, or along the axes of space where there is none.
    fn new(origin: &Point3<f32>, normal: &Vector3<f32>) -> Self {
        let rows = match normal.try_normalize(1e-20) {
            Some(n) => {
                let mut side = Vector3::zeros();
                side[n.iamin()] = 1.0;
                let u = n.cross(&side).normalize();
                [u, n.cross(&u), n]
            }
            None => [Vector3::x(), Vector3::y(), Vector3::z()],
        };
        let columns = [0, 1, 2].map(|k| f32x4::new([rows[0][k], rows[1][k], rows[2][k], 0.0]));
        Self { origin: four(origin), columns }
    }

    #[inline(always)]
    fn image(&self, p: f32x4) -> f32x4 {
        let [x, y, z, _] = (p - self.origin).to_array();
        self.columns[0] * x + self.columns[1] * y + self.columns[2] * z
    }
}

#[inline(always)]
fn four(p: &Point3<f32>) -> f32x4 {
    f32x4::new([p.x, p.y, p.z, 0.0])
}

#[inline(always)]
fn lanes_of(p: f32x4) -> [f32x4; 3] {
    let [x, y, z, _] = p.to_array();
    [f32x4::splat(x), f32x4::splat(y), f32x4::splat(z)]
}

impl Node {
    /// Squared distance from a point to the four boxes.
    #[inline(always)]
    fn distance2(&self, p: f32x4) -> f32x4 {
        let p = lanes_of(self.frame.image(p));
        let mut sum = f32x4::ZERO;
        for ((p, lo), hi) in p.into_iter().zip(&self.lo).zip(&self.hi) {
            let outside = (*lo - p).fast_max(p - *hi).fast_max(f32x4::ZERO);
            sum += outside * outside;
        }
        sum
    }
}

/// A tree over the triangles of a mesh that answers nearest-point questions.
#[derive(Debug, Clone)]
pub struct NearestIndex {
    nodes: Vec<Node>,
    /// Triangle number of each slot, in tree order.
    order: Vec<u32>,
    /// Corners of each slot, in tree order.
    corners: Vec<[Point3<f32>; 3]>,
    /// The same triangles four by four, each leaf one group.
    groups: Vec<FourTriangles>,
    /// Slot of each triangle.
    slot: Vec<u32>,
}

impl NearestIndex {
    /// Builds the tree in O(n log n) by splitting at the median along the longest side.
    #[must_use]
    pub fn new(mesh: &Mesh) -> Self {
        let mut items: Vec<Item> = (0..mesh.triangles.len())
            .map(|t| {
                let [a, b, c] = mesh.corners(t);
                let (lo, hi) = (a.inf(&b).inf(&c), a.sup(&b).sup(&c));
                Item { triangle: t as u32, middle: nalgebra::center(&lo, &hi), lo, hi, cross: (b - a).cross(&(c - a)) }
            })
            .collect();
        let nodes = if items.is_empty() { Vec::new() } else { build(mesh, &mut items, 0) };
        let order: Vec<u32> = items.iter().map(|i| i.triangle).collect();
        let mut slot = vec![0; order.len()];
        for (s, t) in order.iter().enumerate() {
            slot[*t as usize] = s as u32;
        }
        let corners: Vec<[Point3<f32>; 3]> = order.iter().map(|t| mesh.corners(*t as usize)).collect();
        let groups = corners.chunks(LEAF).map(FourTriangles::new).collect();
        Self { nodes, order, corners, groups, slot }
    }

    /// The nearest point to `p`; see [`crate::Surface::nearest`].
    #[must_use]
    pub fn nearest(&self, p: &Point3<f32>, seed: Option<u32>) -> Option<Hit> {
        if self.nodes.is_empty() {
            return None;
        }
        let (at, place) = (spread(p), four(p));
        let (mut best, mut best_slot) = (f32::INFINITY, seed.map_or(0, |t| self.slot[t as usize]) as usize);
        // All triangles beside the seed are measured with it, which tells more than the seed alone.
        let first = best_slot / LEAF * LEAF;
        self.measure(&at, first, LEAF.min(self.order.len() - first), &mut best, &mut best_slot);
        // Every node takes one place and hands on four at most: room for a depth of thirty.
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
            // Farthest first on the stack, so that the nearest child is opened next.
            let mut open = d.simd_le(f32x4::splat(reach(best))).to_bitmask();
            let d = d.to_array();
            let mut near = [(0.0_f32, 0_usize); WIDTH];
            let mut kept = 0;
            while open != 0 {
                let i = open.trailing_zeros() as usize;
                open &= open - 1;
                let mut j = kept;
                while j > 0 && near[j - 1].0 < d[i] {
                    near[j] = near[j - 1];
                    j -= 1;
                }
                near[j] = (d[i], i);
                kept += 1;
            }
            for &(d, i) in &near[..kept] {
                if node.count[i] == 0 {
                    stack[top] = (d, node.child[i]);
                    top += 1;
                }
            }
            for &(d, i) in near[..kept].iter().rev() {
                if node.count[i] > 0 && d <= reach(best) {
                    let first = !node.child[i] as usize;
                    self.measure(&at, first, node.count[i] as usize, &mut best, &mut best_slot);
                }
            }
        }
        Some(hit_on(p, self.order[best_slot], &self.corners[best_slot]))
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

struct Item {
    triangle: u32,
    middle: Point3<f32>,
    lo: Point3<f32>,
    hi: Point3<f32>,
    /// Twice the area along the normal.
    cross: Vector3<f32>,
}

/// Sorts `items` into tree order and returns the nodes below them, the root first; `first` is the slot of `items[0]`.
fn build(mesh: &Mesh, items: &mut [Item], first: usize) -> Vec<Node> {
    // Two rounds of halving give four children.
    let mut cuts = vec![0, items.len()];
    for _ in 0..2 {
        let mut finer = vec![0];
        for w in cuts.windows(2) {
            if w[1] - w[0] > LEAF {
                finer.push(w[0] + halve(&mut items[w[0]..w[1]]));
            }
            finer.push(w[1]);
        }
        cuts = finer;
    }
    // Near the root the surface bends too much for a turned frame to help.
    let turned = items.len() <= TURNED;
    let frame = if turned {
        let normal = items.iter().fold(Vector3::zeros(), |sum, item| sum + item.cross);
        Frame::new(&items[0].middle, &normal)
    } else {
        Frame::new(&Point3::origin(), &Vector3::zeros())
    };
    let (mut lo, mut hi) = ([[f32::INFINITY; WIDTH]; 3], [[f32::NEG_INFINITY; WIDTH]; 3]);
    let mut parts: Vec<(&mut [Item], usize)> = Vec::new();
    let mut rest = items;
    for w in cuts.windows(2) {
        let (part, after) = rest.split_at_mut(w[1] - w[0]);
        parts.push((part, first + w[0]));
        rest = after;
    }
    for (i, (part, _)) in parts.iter().enumerate() {
        let (mut low, mut high) = (f32x4::splat(f32::INFINITY), f32x4::splat(f32::NEG_INFINITY));
        for item in part.iter() {
            let ends = if turned {
                mesh.corners(item.triangle as usize).map(|p| frame.image(four(&p)))
            } else {
                [four(&item.lo), four(&item.hi), four(&item.hi)]
            };
            low = low.fast_min(ends[0]).fast_min(ends[1]).fast_min(ends[2]);
            high = high.fast_max(ends[0]).fast_max(ends[1]).fast_max(ends[2]);
        }
        // Room for what rounding does to images.
        let [x, y, z, _] = low.abs().fast_max(high.abs()).to_array();
        let slack = f32x4::splat(SLACK * (x + y + z));
        let (low, high) = ((low - slack).to_array(), (high + slack).to_array());
        for axis in 0..3 {
            (lo[axis][i], hi[axis][i]) = (low[axis], high[axis]);
        }
    }
    let node = Node { frame, lo: lo.map(f32x4::new), hi: hi.map(f32x4::new), child: [-1; WIDTH], count: [0; WIDTH] };
    let big = parts.iter().map(|(p, _)| p.len()).sum::<usize>() > 20_000;
    let below =
        |(part, slot): (&mut [Item], usize)| if part.len() <= LEAF { Vec::new() } else { build(mesh, part, slot) };
    let sizes: Vec<(usize, usize)> = parts.iter().map(|(p, s)| (p.len(), *s)).collect();
    let children: Vec<Vec<Node>> = if big {
        use rayon::prelude::*;
        parts.into_par_iter().map(below).collect()
    } else {
        parts.into_iter().map(below).collect()
    };
    let mut nodes = vec![node];
    for (i, (mut sub, (len, slot))) in children.into_iter().zip(sizes).enumerate() {
        if sub.is_empty() {
            nodes[0].child[i] = !(slot as i32);
            nodes[0].count[i] = len as u8;
            continue;
        }
        let shift = nodes.len() as i32;
        nodes[0].child[i] = shift;
        for n in &mut sub {
            for k in 0..WIDTH {
                if n.count[k] == 0 {
                    n.child[k] += shift;
                }
            }
        }
        nodes.extend(sub);
    }
    nodes
}

/// Splits at the median of the middles along their longest side; returns where.
fn halve(items: &mut [Item]) -> usize {
    let first = items[0].middle;
    let (lo, hi) = items.iter().fold((first, first), |(lo, hi), i| (lo.inf(&i.middle), hi.sup(&i.middle)));
    let axis = (hi - lo).imax();
    // Leaves come out full when the cut is a multiple of their size.
    let cut = (items.len() / 2).next_multiple_of(LEAF).min(items.len() - 1);
    items.select_nth_unstable_by(cut, |x, y| {
        x.middle[axis].total_cmp(&y.middle[axis]).then(x.triangle.cmp(&y.triangle))
    });
    cut
}

fn hit_on(p: &Point3<f32>, triangle: u32, corners: &[Point3<f32>; 3]) -> Hit {
    let (point, weights, feature) = closest(p, corners);
    Hit { triangle, point, weights, distance2: (p - point).norm_squared(), feature }
}

/// Closest point of a triangle (Ericson, "Real-Time Collision Detection", 2005, section 5.1.5).
#[inline]
fn closest(p: &Point3<f32>, [a, b, c]: &[Point3<f32>; 3]) -> (Point3<f32>, [f32; 3], TriangleFeature) {
    use TriangleFeature::{Edge, Inside, Vertex};
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
    (a + ab * v + ac * w, [1.0 - v - w, v, w], Inside)
}

#[cfg(test)]
mod tests {
    use super::*;
    use parry3d::math::Vec3;
    use parry3d::query::PointQuery;
    use parry3d::shape::TriMesh;
    use proptest::prelude::*;

    fn bumpy() -> Mesh {
        let (w, h) = (40_u32, 30_u32);
        let points = (0..h)
            .flat_map(|j| (0..w).map(move |i| (i as f32, j as f32)))
            .map(|(x, y)| Point3::new(x, y, (x * 0.7).sin() * 2.0 + (y * 0.9).cos() * 3.0))
            .collect();
        let mut triangles = Vec::new();
        for j in 0..h - 1 {
            for i in 0..w - 1 {
                let a = j * w + i;
                triangles.extend([[a, a + 1, a + w + 1], [a, a + w + 1, a + w]]);
            }
        }
        Mesh::new(points, triangles)
    }

    proptest! {
        /// Reference: parry3d's own nearest point on the same triangles.
        #[test]
        fn agrees_with_parry(x in -10.0_f32..50.0, y in -10.0_f32..40.0, z in -15.0_f32..15.0, seed in 0_u32..2262) {
            let mesh = bumpy();
            let index = NearestIndex::new(&mesh);
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
