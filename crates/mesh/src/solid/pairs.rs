//! Pairs of triangles whose boxes meet, by a linear bounding volume hierarchy (Lauterbach et al. 2009).
//!
//! Triangles are sorted along a Z-order curve (Morton 1966) and taken four by four, these groups again, and so on up to
//! the root, so that the tree is a few arrays without links. It answers one question once: its boxes are less tight
//! than those of [`crate::Bvh`], which is made for many questions, but building that takes as long as all of the rest.

use nalgebra::Point3;
use rayon::prelude::*;
use wide::f32x4;

use crate::{Cancelled, Job, Mesh};

const WIDTH: usize = 4;
/// Steps of the curve along each axis.
const STEPS: f32 = 1023.0;
/// Groups that one thread works through at a time.
const GROUPS: usize = 1024;
/// Most pairs kept of each group of triangles with those after it. A surface has a handful; in a tangle, where every
/// triangle may cross every other, time and memory would grow with the square of their number.
const MOST_A_GROUP: usize = 512;

/// Four axis-aligned boxes in SIMD lanes; an empty one has `lo` above `hi`.
#[derive(Debug, Clone, Copy)]
struct Boxes {
    lo: [f32x4; 3],
    hi: [f32x4; 3],
}

/// One box, repeated in all lanes.
type Spread = Boxes;

impl Boxes {
    const NONE: Self = Self { lo: [f32x4::splat(f32::INFINITY); 3], hi: [f32x4::splat(f32::NEG_INFINITY); 3] };

    fn set(&mut self, lane: usize, (lo, hi): ([f32; 3], [f32; 3])) {
        for k in 0..3 {
            self.lo[k].as_mut_array()[lane] = lo[k];
            self.hi[k].as_mut_array()[lane] = hi[k];
        }
    }

    /// The box round all four.
    fn all(&self) -> ([f32; 3], [f32; 3]) {
        let least = |x: &f32x4| x.to_array().into_iter().fold(f32::INFINITY, f32::min);
        let most = |x: &f32x4| x.to_array().into_iter().fold(f32::NEG_INFINITY, f32::max);
        ([0, 1, 2].map(|k| least(&self.lo[k])), [0, 1, 2].map(|k| most(&self.hi[k])))
    }

    fn spread((lo, hi): ([f32; 3], [f32; 3])) -> Spread {
        Self { lo: lo.map(f32x4::splat), hi: hi.map(f32x4::splat) }
    }

    /// One of the four, in all lanes.
    fn lane(&self, lane: usize) -> Spread {
        let of = |x: &f32x4| f32x4::splat(x.to_array()[lane]);
        Self { lo: [0, 1, 2].map(|k| of(&self.lo[k])), hi: [0, 1, 2].map(|k| of(&self.hi[k])) }
    }

    /// Which of the four meet a box, one bit each.
    #[inline(always)]
    fn meeting(&self, other: &Spread) -> u32 {
        let on = |k: usize| self.lo[k].simd_le(other.hi[k]) & other.lo[k].simd_le(self.hi[k]);
        (on(0) & on(1) & on(2)).to_bitmask()
    }
}

/// The hierarchy; see the module.
pub struct LinearBvh {
    /// Triangles along the curve.
    order: Vec<u32>,
    /// The boxes of each four triangles, then of each four of those groups, up to a single four.
    levels: Vec<Vec<Boxes>>,
}

impl LinearBvh {
    /// Builds the hierarchy of the triangles of a mesh for which `counts` holds.
    ///
    /// # Errors
    /// [`Cancelled`] when the job was.
    pub fn new(mesh: &Mesh, counts: &(impl Fn(u32) -> bool + Sync), job: &Job) -> Result<Self, Cancelled> {
        let (lo, hi) = mesh.bounds().unwrap_or_default();
        let scale = (hi - lo).map(|side| STEPS / side.max(f32::MIN_POSITIVE));
        let box_of = |t: u32| {
            let [a, b, c] = mesh.corners(t as usize);
            (a.inf(&b).inf(&c), a.sup(&b).sup(&c))
        };
        let key = |t: u32| {
            let (low, high) = box_of(t);
            let at = (nalgebra::center(&low, &high) - lo).component_mul(&scale);
            // The number breaks ties, so that the order is fixed.
            u64::from(along_curve(at.into())) << 32 | u64::from(t)
        };
        let mut keys = job.each(mesh.triangles.len(), |t| key(t as u32))?;
        keys.retain(|key| counts(*key as u32));
        keys.par_sort_unstable();
        job.check()?;
        let order: Vec<u32> = keys.into_iter().map(|k| k as u32).collect();
        let ends = |(low, high): (Point3<f32>, Point3<f32>)| (low.coords.into(), high.coords.into());
        let leaves = order.par_chunks(WIDTH).map(|group| four(group.iter().map(|t| ends(box_of(*t))))).collect();
        let mut levels: Vec<Vec<Boxes>> = vec![leaves];
        job.check()?;
        while let Some(below) = levels.last().filter(|l| l.len() > 1) {
            levels.push(below.chunks(WIDTH).map(|group| four(group.iter().map(Boxes::all))).collect());
        }
        Ok(Self { order, levels })
    }

    /// Pairs of triangles whose boxes meet and for which `keep` holds, in the tree's order; of a tangle only some, at
    /// most 128 for each triangle, always the same.
    ///
    /// # Errors
    /// [`Cancelled`] when the job was.
    pub fn pairs(&self, keep: &(impl Fn(u32, u32) -> bool + Sync), job: &Job) -> Result<Vec<[u32; 2]>, Cancelled> {
        let groups: Vec<usize> = (0..self.levels[0].len()).collect();
        let found: Vec<Result<Vec<[u32; 2]>, Cancelled>> = groups
            .par_chunks(GROUPS)
            .map(|chunk| {
                let mut pairs = Vec::new();
                for g in chunk {
                    job.check()?;
                    let most = pairs.len() + MOST_A_GROUP;
                    self.visit_from(*g, |t, u| {
                        if keep(t, u) {
                            pairs.push([t, u]);
                        }
                        pairs.len() < most
                    });
                }
                Ok(pairs)
            })
            .collect();
        Ok(found.into_iter().collect::<Result<Vec<_>, _>>()?.concat())
    }

    /// Visits the pairs of each triangle of group `g` with those after it, for as long as `visit` says to go on.
    fn visit_from(&self, g: usize, mut visit: impl FnMut(u32, u32) -> bool) {
        let own = &self.levels[0][g];
        let whole = Boxes::spread(own.all());
        let count = WIDTH.min(self.order.len() - g * WIDTH);
        let each: [Spread; WIDTH] = [0, 1, 2, 3].map(|i| own.lane(i));
        // Each node frees one entry and pushes at most four: enough for a depth of fifteen, which covers all of `u32`.
        let mut stack = [(0_usize, 0_usize); 3 * 16 + 1];
        stack[0] = (self.levels.len() - 1, 0);
        let mut top = 1;
        while top > 0 {
            top -= 1;
            let (level, node) = stack[top];
            let boxes = &self.levels[level][node];
            if level == 0 {
                for (i, one) in each.iter().enumerate().take(count) {
                    let mut meeting = boxes.meeting(one);
                    if node == g {
                        meeting &= 0b1110 << i;
                    }
                    while meeting != 0 {
                        let lane = meeting.trailing_zeros() as usize;
                        meeting &= meeting - 1;
                        if !visit(self.order[g * WIDTH + i], self.order[node * WIDTH + lane]) {
                            return;
                        }
                    }
                }
                continue;
            }
            let mut meeting = boxes.meeting(&whole);
            while meeting != 0 {
                let child = node * WIDTH + meeting.trailing_zeros() as usize;
                meeting &= meeting - 1;
                // What lies before this group has met it from its own side.
                if (child + 1) << (2 * (level - 1)) > g {
                    stack[top] = (level - 1, child);
                    top += 1;
                }
            }
        }
    }
}

fn four(boxes: impl Iterator<Item = ([f32; 3], [f32; 3])>) -> Boxes {
    let mut group = Boxes::NONE;
    boxes.enumerate().for_each(|(lane, ends)| group.set(lane, ends));
    group
}

/// Place along the curve of a point with coordinates from 0 to [`STEPS`]: their bits, taken in turn.
fn along_curve(at: [f32; 3]) -> u32 {
    let spaced = |x: f32| {
        let mut x = (x as u32).min(STEPS as u32);
        x = (x | x << 16) & 0x0300_00ff;
        x = (x | x << 8) & 0x0300_f00f;
        x = (x | x << 4) & 0x030c_30c3;
        (x | x << 2) & 0x0924_9249
    };
    let [x, y, z] = at.map(spaced);
    x | y << 1 | z << 2
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_curve_takes_bits_in_turn() {
        assert_eq!(along_curve([1.0, 0.0, 0.0]), 0b001);
        assert_eq!(along_curve([0.0, 3.0, 0.0]), 0b010_010);
        assert_eq!(along_curve([1023.0; 3]), (1 << 30) - 1);
    }

    /// Three thousand triangles on one another: four and a half million pairs.
    #[test]
    fn of_a_tangle_no_more_than_128_pairs_a_triangle_are_kept() {
        let n = 3000_u32;
        let points = (0..3 * n).map(|i| Point3::new((i * i % 97) as f32, (i * i % 89) as f32, (i * 7 % 83) as f32));
        let mesh = Mesh::new(points.collect(), (0..n).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]).collect());
        let tree = LinearBvh::new(&mesh, &|_| true, &Job::silent()).unwrap();
        let pairs = tree.pairs(&|_, _| true, &Job::silent()).unwrap();
        assert!((100_000..=128 * n as usize).contains(&pairs.len()), "{}", pairs.len());
        assert_eq!(pairs, tree.pairs(&|_, _| true, &Job::silent()).unwrap());
    }

    proptest! {
        /// Reference: every pair tried one by one.
        #[test]
        fn finds_the_pairs_that_trying_all_finds(
            corners in prop::collection::vec(prop::array::uniform3(prop::array::uniform3(-4.0_f32..4.0)), 1..90)
        ) {
            let points: Vec<Point3<f32>> = corners.iter().flatten().map(|p| Point3::from(*p)).collect();
            let triangles: Vec<[u32; 3]> = (0..corners.len() as u32).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]).collect();
            let mesh = Mesh::new(points, triangles);
            let ends = |t: u32| {
                let [a, b, c] = mesh.corners(t as usize);
                (a.inf(&b).inf(&c), a.sup(&b).sup(&c))
            };
            let mut expected = Vec::new();
            for t in 0..corners.len() as u32 {
                for u in t + 1..corners.len() as u32 {
                    let ((la, ha), (lb, hb)) = (ends(t), ends(u));
                    if (0..3).all(|k| la[k] <= hb[k] && lb[k] <= ha[k]) {
                        expected.push([t, u]);
                    }
                }
            }
            let mut found = LinearBvh::new(&mesh, &|_| true, &Job::silent()).unwrap().pairs(&|_, _| true, &Job::silent()).unwrap();
            found.iter_mut().for_each(|pair| pair.sort_unstable());
            found.sort_unstable();
            prop_assert_eq!(found, expected);
        }
    }
}
