//! A ray's own frame, and where it crosses boxes and triangles in it.
//!
//! Watertight: all triangles are put in one sheared frame in which the ray is the third axis (Woop, Benthin and Wald
//! 2013, "Watertight ray/triangle intersection"), so that corners and sides shared by triangles coincide. On which side
//! of an edge the ray passes is then decided exactly (Shewchuk 1997), where the paper stops at double precision.

use nalgebra::{Point3, Vector3};
use robust::Coord;
use wide::f32x4;

use super::tree::{Node, four, lanes_of};

/// Boxes are widened by this share of the coordinates of the ray's start: about ten times the rounding error of the
/// ray's image in turned axes.
const SLACK: f32 = 4e-6;

/// A ray in the frame in which it runs along the third axis.
pub struct Ray {
    origin: Point3<f64>,
    /// The axis that the ray follows most closely, and the other two.
    axes: [usize; 3],
    shear: [f64; 3],
    /// For the box tests.
    start: f32x4,
    direction: f32x4,
}

/// Where a ray crosses the plane of a triangle, inside it.
pub struct Crossing {
    pub along: f64,
    /// Of the triangle's corners.
    pub weights: [f64; 3],
    /// Whether the ray comes out of the side that the triangle faces.
    pub leaves: bool,
}

impl Ray {
    /// `None` where the direction has no length or a number is not finite.
    pub fn new(origin: &Point3<f32>, direction: &Vector3<f32>) -> Option<Self> {
        let finite = origin.iter().chain(direction.iter()).all(|x| x.is_finite());
        let unit = direction.cast::<f64>().try_normalize(0.0).filter(|_| finite)?;
        let z = unit.iamax();
        let (x, y) = ((z + 1) % 3, (z + 2) % 3);
        let shear = [unit[x] / unit[z], unit[y] / unit[z], 1.0 / unit[z]];
        let way = unit.cast::<f32>();
        let direction = f32x4::new([way.x, way.y, way.z, 0.0]);
        Some(Self { origin: origin.cast(), axes: [x, y, z], shear, start: four(origin), direction })
    }

    /// A corner in the ray's frame: its offset across the ray (first and second) and along it (third).
    #[inline(always)]
    fn image(&self, p: &Point3<f32>) -> [f64; 3] {
        let from_start = |k: usize| f64::from(p[k]) - self.origin[k];
        let off = [from_start(self.axes[0]), from_start(self.axes[1]), from_start(self.axes[2])];
        [off[0] - self.shear[0] * off[2], off[1] - self.shear[1] * off[2], self.shear[2] * off[2]]
    }

    #[inline(always)]
    pub fn crosses(&self, corners: &[Point3<f32>; 3]) -> Option<Crossing> {
        let seen = [self.image(&corners[0]), self.image(&corners[1]), self.image(&corners[2])];
        let parts = [turn(&seen[1], &seen[2]), turn(&seen[2], &seen[0]), turn(&seen[0], &seen[1])];
        if parts.iter().any(|w| *w < 0.0) && parts.iter().any(|w| *w > 0.0) {
            return None;
        }
        let whole = parts[0] + parts[1] + parts[2];
        // Seen edge-on a triangle has no area; its neighbours are hit instead.
        if whole == 0.0 {
            return None;
        }
        let weights = parts.map(|w| w / whole);
        let along = weights[0] * seen[0][2] + weights[1] * seen[1][2] + weights[2] * seen[2][2];
        // The area is seen against the third axis where the ray runs down it.
        Some(Crossing { along, weights, leaves: (whole > 0.0) == (self.shear[2] > 0.0) })
    }

    /// Where the ray enters the four boxes of a node, and which of them it crosses before `best`.
    #[inline(always)]
    pub fn enters(&self, node: &Node, best: f32) -> (f32x4, u32) {
        let start = node.axes.image(self.start);
        let [x, y, z, _] = start.abs().to_array();
        let slack = f32x4::splat(SLACK * (x + y + z));
        let starts = lanes_of(start);
        let way = node.axes.turn(self.direction).to_array();
        let (mut near, mut far) = (f32x4::ZERO, f32x4::splat(best));
        for k in 0..3 {
            // Never zero, so that zero is not multiplied by infinity.
            let speed = if way[k].abs() < 1e-20 { 1e-20 } else { way[k] };
            let over = f32x4::splat(1.0 / speed);
            let (lo, hi) = (node.lo[k] - slack - starts[k], node.hi[k] + slack - starts[k]);
            let (first, last) = if speed > 0.0 { (lo * over, hi * over) } else { (hi * over, lo * over) };
            near = near.fast_max(first);
            far = far.fast_min(last);
        }
        (near, near.simd_le(far).to_bitmask())
    }
}

/// Twice the signed area of the triangle between the ray, `p` and `q`; its sign is exact.
#[inline(always)]
fn turn(p: &[f64; 3], q: &[f64; 3]) -> f64 {
    let (left, right) = (p[0] * q[1], p[1] * q[0]);
    let area = left - right;
    // Shewchuk's bound for the plain formula is (3 + 16ε)ε times this, with ε = 2⁻⁵³.
    if area.abs() > 3.4e-16 * (left.abs() + right.abs()) {
        return area;
    }
    let at = |p: &[f64; 3]| Coord { x: p[0], y: p[1] };
    robust::orient2d(Coord { x: 0.0, y: 0.0 }, at(p), at(q))
}
