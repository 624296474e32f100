//! Nearest point of a mesh: a bounding-volume tree with four boxes a node and seeded descent.

use nalgebra::{Point3, Vector3};

use crate::Mesh;

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

pub(crate) const LEAF: usize = 4;
const WIDTH: usize = 4;

/// Squared distance up to which boxes are opened when `best` is the least found: somewhat more than `best`, so that
/// rounding and ties never let the seed change the answer.
#[inline(always)]
fn reach(best: f32) -> f32 {
    best * (1.0 + 1e-5) + 1e-6
}

/// Four child boxes side by side, so that one pass over an array tests them all.
#[derive(Debug, Clone, Copy)]
struct Node {
    lo: [[f32; WIDTH]; 3],
    hi: [[f32; WIDTH]; 3],
    /// Index of the child node, or `!first` triangle slot for a leaf; unused children have an empty box.
    child: [i32; WIDTH],
    /// Triangles in a leaf child, 0 for an inner child.
    count: [u8; WIDTH],
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
    groups: Vec<Group>,
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
                Item { triangle: t as u32, middle: nalgebra::center(&lo, &hi), lo, hi }
            })
            .collect();
        let nodes = if items.is_empty() { Vec::new() } else { build(&mut items, 0) };
        let order: Vec<u32> = items.iter().map(|i| i.triangle).collect();
        let mut slot = vec![0; order.len()];
        for (s, t) in order.iter().enumerate() {
            slot[*t as usize] = s as u32;
        }
        let corners: Vec<[Point3<f32>; 3]> = order.iter().map(|t| mesh.corners(*t as usize)).collect();
        let groups = corners.chunks(LEAF).map(Group::new).collect();
        Self { nodes, order, corners, groups, slot }
    }

    /// The nearest point to `p`; see [`crate::Surface::nearest`].
    #[must_use]
    pub fn nearest(&self, p: &Point3<f32>, seed: Option<u32>) -> Option<Hit> {
        if self.nodes.is_empty() {
            return None;
        }
        let mut best_slot = seed.map_or(0, |t| self.slot[t as usize]);
        let mut best = self.groups[best_slot as usize / LEAF].distance2(p)[best_slot as usize % LEAF];
        let mut stack = [(0.0_f32, 0_i32); 96];
        let mut top = 1;
        while top > 0 {
            top -= 1;
            let (bound, at) = stack[top];
            if bound > reach(best) {
                continue;
            }
            let node = &self.nodes[at as usize];
            let mut d = [0.0_f32; WIDTH];
            for axis in 0..3 {
                for (i, d) in d.iter_mut().enumerate() {
                    let outside = (node.lo[axis][i] - p[axis]).max(p[axis] - node.hi[axis][i]).max(0.0);
                    *d += outside * outside;
                }
            }
            // Farthest first on the stack, so that the nearest child is opened next.
            let mut near = [(0.0_f32, 0_usize); WIDTH];
            let mut kept = 0;
            for (i, &d) in d.iter().enumerate() {
                if d <= reach(best) {
                    let mut j = kept;
                    while j > 0 && near[j - 1].0 < d {
                        near[j] = near[j - 1];
                        j -= 1;
                    }
                    near[j] = (d, i);
                    kept += 1;
                }
            }
            for &(d, i) in &near[..kept] {
                if node.count[i] == 0 {
                    stack[top] = (d, node.child[i]);
                    top += 1;
                }
            }
            for &(d, i) in near[..kept].iter().rev() {
                if node.count[i] > 0 && d <= reach(best) {
                    // Leaves start at multiples of their size.
                    let first = !node.child[i] as usize;
                    let distances = self.groups[first / LEAF].distance2(p);
                    for (s, &d) in (first..first + node.count[i] as usize).zip(&distances) {
                        // On a tie the lower triangle number wins, so that seeds never change the answer.
                        if d < best || (d == best && self.order[s] < self.order[best_slot as usize]) {
                            best = d;
                            best_slot = s as u32;
                        }
                    }
                }
            }
        }
        Some(hit_on(p, self.order[best_slot as usize], &self.corners[best_slot as usize]))
    }

    /// Calls `visit` with every triangle whose own box meets the box from `lo` to `hi`.
    pub fn visit_box(&self, lo: &Point3<f32>, hi: &Point3<f32>, mut visit: impl FnMut(u32)) {
        let mut stack = Vec::with_capacity(64);
        if !self.nodes.is_empty() {
            stack.push(0_i32);
        }
        while let Some(at) = stack.pop() {
            let node = &self.nodes[at as usize];
            for i in 0..WIDTH {
                let apart = (0..3).any(|axis| node.lo[axis][i] > hi[axis] || node.hi[axis][i] < lo[axis]);
                if apart {
                    continue;
                }
                if node.count[i] == 0 {
                    stack.push(node.child[i]);
                    continue;
                }
                let first = !node.child[i] as usize;
                for s in first..first + node.count[i] as usize {
                    let [a, b, c] = &self.corners[s];
                    let (low, high) = (a.inf(b).inf(c), a.sup(b).sup(c));
                    if (0..3).all(|axis| low[axis] <= hi[axis] && high[axis] >= lo[axis]) {
                        visit(self.order[s]);
                    }
                }
            }
        }
    }
}

/// Four triangles side by side, so that the compiler can measure them all at once.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Group {
    a: [[f32; LEAF]; 3],
    ab: [[f32; LEAF]; 3],
    ac: [[f32; LEAF]; 3],
}

type Lanes = [f32; LEAF];

#[inline(always)]
fn lanes(f: impl Fn(usize) -> f32) -> Lanes {
    [f(0), f(1), f(2), f(3)]
}

#[inline(always)]
fn from_axes(f: impl Fn(usize, usize) -> f32) -> [Lanes; 3] {
    [lanes(|i| f(0, i)), lanes(|i| f(1, i)), lanes(|i| f(2, i))]
}

#[inline(always)]
fn dot_lanes(u: &[Lanes; 3], v: &[Lanes; 3]) -> Lanes {
    lanes(|i| u[0][i] * v[0][i] + u[1][i] * v[1][i] + u[2][i] * v[2][i])
}

/// Squared length of `p - s u - t v`, lane by lane.
#[inline(always)]
fn rest2(p: &[Lanes; 3], s: &Lanes, u: &[Lanes; 3], t: &Lanes, v: &[Lanes; 3]) -> Lanes {
    let q = from_axes(|k, i| p[k][i] - s[i] * u[k][i] - t[i] * v[k][i]);
    dot_lanes(&q, &q)
}

impl Group {
    pub(crate) fn new(corners: &[[Point3<f32>; 3]]) -> Self {
        // Lanes without a triangle lie far away.
        let mut group = Self { a: [[1e15; LEAF]; 3], ab: [[0.0; LEAF]; 3], ac: [[0.0; LEAF]; 3] };
        for (i, [a, b, c]) in corners.iter().enumerate() {
            for k in 0..3 {
                group.a[k][i] = a[k];
                group.ab[k][i] = b[k] - a[k];
                group.ac[k][i] = c[k] - a[k];
            }
        }
        group
    }

    /// Least squared distance from `p` to the triangles.
    pub(crate) fn least_distance2(&self, p: &Point3<f32>) -> f32 {
        self.distance2(p).into_iter().fold(f32::INFINITY, f32::min)
    }

    /// Squared distances from `p`: to the plane where the foot lies inside, else to the nearest of the three sides.
    #[inline]
    fn distance2(&self, p: &Point3<f32>) -> Lanes {
        let ap = from_axes(|k, i| p[k] - self.a[k][i]);
        let bc = from_axes(|k, i| self.ac[k][i] - self.ab[k][i]);
        let bp = from_axes(|k, i| ap[k][i] - self.ab[k][i]);
        let (e, f, g) = (dot_lanes(&self.ab, &self.ab), dot_lanes(&self.ab, &self.ac), dot_lanes(&self.ac, &self.ac));
        let (d1, d2) = (dot_lanes(&self.ab, &ap), dot_lanes(&self.ac, &ap));
        let (h, d3) = (dot_lanes(&bc, &bc), dot_lanes(&bc, &bp));
        let share = |d: &Lanes, l: &Lanes| lanes(|i| (d[i] / l[i].max(f32::MIN_POSITIVE)).clamp(0.0, 1.0));
        let none = [0.0; LEAF];
        let on_ab = rest2(&ap, &share(&d1, &e), &self.ab, &none, &self.ab);
        let on_ac = rest2(&ap, &share(&d2, &g), &self.ac, &none, &self.ac);
        let on_bc = rest2(&bp, &share(&d3, &h), &bc, &none, &bc);
        let det = lanes(|i| e[i] * g[i] - f[i] * f[i]);
        let v = lanes(|i| g[i] * d1[i] - f[i] * d2[i]);
        let w = lanes(|i| e[i] * d2[i] - f[i] * d1[i]);
        let over = lanes(|i| 1.0 / det[i].max(f32::MIN_POSITIVE));
        let on_plane = rest2(&ap, &lanes(|i| v[i] * over[i]), &self.ab, &lanes(|i| w[i] * over[i]), &self.ac);
        lanes(|i| {
            let side = on_ab[i].min(on_ac[i]).min(on_bc[i]);
            let within = (v[i] >= 0.0) & (w[i] >= 0.0) & (v[i] + w[i] <= det[i]) & (det[i] > 0.0);
            if within { on_plane[i] } else { side }
        })
    }
}

struct Item {
    triangle: u32,
    middle: Point3<f32>,
    lo: Point3<f32>,
    hi: Point3<f32>,
}

/// Sorts `items` into tree order and returns the nodes below them, the root first; `first` is the slot of `items[0]`.
fn build(items: &mut [Item], first: usize) -> Vec<Node> {
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
    let mut node = Node {
        lo: [[f32::INFINITY; WIDTH]; 3],
        hi: [[f32::NEG_INFINITY; WIDTH]; 3],
        child: [-1; WIDTH],
        count: [0; WIDTH],
    };
    let mut parts: Vec<(&mut [Item], usize)> = Vec::new();
    let mut rest = items;
    for w in cuts.windows(2) {
        let (part, after) = rest.split_at_mut(w[1] - w[0]);
        parts.push((part, first + w[0]));
        rest = after;
    }
    for (i, (part, _)) in parts.iter().enumerate() {
        for item in part.iter() {
            for axis in 0..3 {
                node.lo[axis][i] = node.lo[axis][i].min(item.lo[axis]);
                node.hi[axis][i] = node.hi[axis][i].max(item.hi[axis]);
            }
        }
    }
    let big = parts.iter().map(|(p, _)| p.len()).sum::<usize>() > 20_000;
    let below = |(part, slot): (&mut [Item], usize)| if part.len() <= LEAF { Vec::new() } else { build(part, slot) };
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
