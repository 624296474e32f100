//! Four triangles measured at once.

use nalgebra::Point3;
use wide::f32x4;

/// Triangles in one group.
pub(crate) const LEAF: usize = 4;

type Vectors = [f32x4; 3];

/// The same point in all lanes.
#[inline(always)]
pub(crate) fn spread(p: &Point3<f32>) -> Vectors {
    [f32x4::splat(p.x), f32x4::splat(p.y), f32x4::splat(p.z)]
}

/// Up to four triangles side by side: a corner of each, and its two sides from there.
#[derive(Debug, Clone, Copy)]
pub(crate) struct FourTriangles {
    a: Vectors,
    ab: Vectors,
    ac: Vectors,
}

#[inline(always)]
fn minus(u: &Vectors, v: &Vectors) -> Vectors {
    [u[0] - v[0], u[1] - v[1], u[2] - v[2]]
}

#[inline(always)]
fn dot(u: &Vectors, v: &Vectors) -> f32x4 {
    u[0] * v[0] + u[1] * v[1] + u[2] * v[2]
}

/// Squared distance of `p` from the segment from the origin to `u`, of which `along` is `p · u`.
#[inline(always)]
fn off_side2(p: &Vectors, u: &Vectors, along: f32x4, length2: f32x4) -> f32x4 {
    let share = along / length2.fast_max(f32x4::splat(f32::MIN_POSITIVE));
    let share = share.fast_max(f32x4::ZERO).fast_min(f32x4::ONE);
    let off = [p[0] - share * u[0], p[1] - share * u[1], p[2] - share * u[2]];
    dot(&off, &off)
}

impl FourTriangles {
    /// No triangle: every lane far away.
    pub(crate) const NONE: Self = Self { a: [f32x4::splat(1e15); 3], ab: [f32x4::ZERO; 3], ac: [f32x4::ZERO; 3] };

    /// Packs up to four triangles; lanes without a triangle lie far away.
    pub(crate) fn new(corners: &[[Point3<f32>; 3]]) -> Self {
        let mut group = Self::NONE;
        for (lane, corners) in corners.iter().enumerate() {
            group.set(lane, corners);
        }
        group
    }

    /// Puts a triangle into one lane.
    #[inline(always)]
    pub(crate) fn set(&mut self, lane: usize, [a, b, c]: &[Point3<f32>; 3]) {
        for k in 0..3 {
            self.a[k].as_mut_array()[lane] = a[k];
            self.ab[k].as_mut_array()[lane] = b[k] - a[k];
            self.ac[k].as_mut_array()[lane] = c[k] - a[k];
        }
    }

    /// Least squared distance from `p` to the triangles.
    #[inline]
    pub(crate) fn least_distance2(&self, p: &Vectors) -> f32 {
        let [a, b, c, d] = self.distance2(p).to_array();
        a.min(b).min(c.min(d))
    }

    /// Squared distances from `p`: to the plane where the foot lies inside, else to the nearest of the three sides.
    #[inline(always)]
    pub(crate) fn distance2(&self, p: &Vectors) -> f32x4 {
        let ap = minus(p, &self.a);
        let bc = minus(&self.ac, &self.ab);
        let bp = minus(&ap, &self.ab);
        let (e, f, g) = (dot(&self.ab, &self.ab), dot(&self.ab, &self.ac), dot(&self.ac, &self.ac));
        let (d1, d2) = (dot(&self.ab, &ap), dot(&self.ac, &ap));
        let on_ab = off_side2(&ap, &self.ab, d1, e);
        let on_ac = off_side2(&ap, &self.ac, d2, g);
        let on_bc = off_side2(&bp, &bc, dot(&bc, &bp), dot(&bc, &bc));
        let side = on_ab.fast_min(on_ac).fast_min(on_bc);

        let det = e * g - f * f;
        let v = g * d1 - f * d2;
        let w = e * d2 - f * d1;
        let over = f32x4::ONE / det.fast_max(f32x4::splat(f32::MIN_POSITIVE));
        let (s, t) = (v * over, w * over);
        let off = [0, 1, 2].map(|k| ap[k] - s * self.ab[k] - t * self.ac[k]);
        let plane = dot(&off, &off);
        let within = v.simd_ge(f32x4::ZERO) & w.simd_ge(f32x4::ZERO) & (v + w).simd_le(det) & det.simd_gt(f32x4::ZERO);
        within.bitselect(plane, side)
    }
}
