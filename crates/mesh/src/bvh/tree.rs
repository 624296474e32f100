//! The nodes of the hierarchy: four boxes each, along axes turned with the surface.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use wide::f32x4;

use crate::Mesh;
use crate::four::LEAF;
use crate::job::Poll;

/// Boxes per node.
pub(super) const WIDTH: usize = 4;
/// Triangles under a node below which its axes are turned.
const TURNED: usize = 16384;
/// Boxes are widened by this share of their coordinates, for rounding.
const SLACK: f32 = 1e-6;

/// Four child boxes side by side, so that one pass over an array tests them all.
///
/// The boxes are aligned with axes of the node's own, one along the mean normal of its triangles: on a slanting
/// surface they are much thinner than boxes along the axes of space.
#[derive(Debug, Clone, Copy)]
pub(super) struct Node {
    pub(super) axes: LocalAxes,
    pub(super) lo: [f32x4; 3],
    pub(super) hi: [f32x4; 3],
    /// Index of the child node, or `!first` triangle slot for a leaf; unused children have an empty box.
    pub(super) child: [i32; WIDTH],
    /// Triangles in a leaf child, 0 for an inner child.
    pub(super) count: [u8; WIDTH],
}

/// Turned axes: the image of a point `p` is the columns times `p - origin`.
#[derive(Debug, Clone, Copy)]
pub(super) struct LocalAxes {
    origin: f32x4,
    columns: [f32x4; 3],
}

impl LocalAxes {
    /// Axes at `origin` with its third axis along `normal`, or along the axes of space where there is none.
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
    pub(super) fn image(&self, p: f32x4) -> f32x4 {
        self.turn(p - self.origin)
    }

    /// Image of a direction.
    #[inline(always)]
    pub(super) fn turn(&self, v: f32x4) -> f32x4 {
        let [x, y, z, _] = v.to_array();
        self.columns[0] * x + self.columns[1] * y + self.columns[2] * z
    }
}

#[inline(always)]
pub(super) fn four(p: &Point3<f32>) -> f32x4 {
    f32x4::new([p.x, p.y, p.z, 0.0])
}

#[inline(always)]
pub(super) fn lanes_of(p: f32x4) -> [f32x4; 3] {
    let [x, y, z, _] = p.to_array();
    [f32x4::splat(x), f32x4::splat(y), f32x4::splat(z)]
}

#[derive(Clone, Default)]
pub(super) struct Item {
    pub(super) triangle: u32,
    pub(super) middle: Point3<f32>,
    pub(super) lo: Point3<f32>,
    pub(super) hi: Point3<f32>,
    /// Twice the area along the normal.
    pub(super) cross: Vector3<f32>,
}

/// Items up to which cancellation is not checked.
const ASKED: usize = 4096;
/// Items from which the children of a node are built in parallel.
const PARALLEL: usize = 20_000;

/// Sorts `items` into tree order and returns the nodes below them, the root first; `first` is the slot of `items[0]`.
pub(super) fn build<P: Poll>(mesh: &Mesh, items: &mut [Item], first: usize, poll: &P) -> Result<Vec<Node>, P::Stop> {
    let cuts = quarter(items, poll)?;
    // Near the root the surface bends too much for turned axes to help.
    let turned = items.len() <= TURNED;
    let axes = if turned {
        let normal = items.iter().fold(Vector3::zeros(), |sum, item| sum + item.cross);
        LocalAxes::new(&items[0].middle, &normal)
    } else {
        LocalAxes::new(&Point3::origin(), &Vector3::zeros())
    };
    let large = items.len() > PARALLEL;
    if large {
        poll.poll()?;
    }
    let mut parts: Vec<(&mut [Item], usize)> = Vec::new();
    let mut rest = items;
    for w in cuts.windows(2) {
        let (part, after) = rest.split_at_mut(w[1] - w[0]);
        parts.push((part, first + w[0]));
        rest = after;
    }
    let (mut lo, mut hi) = ([[f32::INFINITY; WIDTH]; 3], [[f32::NEG_INFINITY; WIDTH]; 3]);
    for (i, (part, _)) in parts.iter().enumerate() {
        let (low, high) = box_of(mesh, part, turned.then_some(&axes));
        for axis in 0..3 {
            (lo[axis][i], hi[axis][i]) = (low[axis], high[axis]);
        }
    }
    let node = Node { axes, lo: lo.map(f32x4::new), hi: hi.map(f32x4::new), child: [-1; WIDTH], count: [0; WIDTH] };
    let sizes: Vec<(usize, usize)> = parts.iter().map(|(p, s)| (p.len(), *s)).collect();
    let below = |(part, slot): (&mut [Item], usize)| {
        if part.len() <= LEAF { Ok(Vec::new()) } else { build(mesh, part, slot, poll) }
    };
    let children: Vec<Vec<Node>> = if large {
        parts.into_par_iter().map(below).collect::<Result<_, _>>()?
    } else {
        parts.into_iter().map(below).collect::<Result<_, _>>()?
    };
    Ok(joined(node, children, &sizes))
}

/// Where the items are cut into up to four parts: two rounds of halving.
fn quarter<P: Poll>(items: &mut [Item], poll: &P) -> Result<Vec<usize>, P::Stop> {
    let mut cuts = vec![0, items.len()];
    for _ in 0..2 {
        let mut finer = vec![0];
        for w in cuts.windows(2) {
            if w[1] - w[0] > ASKED {
                poll.poll()?;
            }
            if w[1] - w[0] > LEAF {
                finer.push(w[0] + halve(&mut items[w[0]..w[1]]));
            }
            finer.push(w[1]);
        }
        cuts = finer;
    }
    Ok(cuts)
}

/// The bounding box of some triangles along `axes`, or along the axes of space.
fn box_of(mesh: &Mesh, part: &[Item], axes: Option<&LocalAxes>) -> ([f32; 4], [f32; 4]) {
    let (mut low, mut high) = (f32x4::splat(f32::INFINITY), f32x4::splat(f32::NEG_INFINITY));
    for item in part {
        let ends = match axes {
            Some(axes) => mesh.corners(item.triangle as usize).map(|p| axes.image(four(&p))),
            None => [four(&item.lo), four(&item.hi), four(&item.hi)],
        };
        low = low.fast_min(ends[0]).fast_min(ends[1]).fast_min(ends[2]);
        high = high.fast_max(ends[0]).fast_max(ends[1]).fast_max(ends[2]);
    }
    // Room for what rounding does to images.
    let [x, y, z, _] = low.abs().fast_max(high.abs()).to_array();
    let slack = f32x4::splat(SLACK * (x + y + z));
    ((low - slack).to_array(), (high + slack).to_array())
}

/// A node with the trees below it, each child with its count of triangles and first slot.
fn joined(node: Node, children: Vec<Vec<Node>>, sizes: &[(usize, usize)]) -> Vec<Node> {
    let mut nodes = vec![node];
    for (i, (mut below, (len, slot))) in children.into_iter().zip(sizes).enumerate() {
        if below.is_empty() {
            nodes[0].child[i] = !(*slot as i32);
            nodes[0].count[i] = *len as u8;
            continue;
        }
        let shift = nodes.len() as i32;
        nodes[0].child[i] = shift;
        for n in &mut below {
            for k in 0..WIDTH {
                // Unused children stay below 0.
                if n.count[k] == 0 && n.child[k] > 0 {
                    n.child[k] += shift;
                }
            }
        }
        nodes.extend(below);
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
