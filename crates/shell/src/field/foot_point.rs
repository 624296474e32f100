//! The foot point of a point in space: the skin point whose smooth normal goes through it.
//!
//! Nearest points bunch up on the edges between triangles, the more so the rougher the scan: a line looked up there
//! wavers where the face above it is smooth. Over a hollow they jump from one side to the other, where foot points meet
//! in between. Only places on the skin are looked up at foot points; the height above the skin stays that of the
//! nearest point.

use mesh::{Hit, NONE, Surface};
use nalgebra::{Point3, Vector3};

/// A foot point is sought no farther than this from the nearest point, mm.
pub(super) const REACH_MM: f32 = 2.0;
/// Newton steps once in the right triangle.
const STEPS: usize = 2;
/// A foot point this near to the nearest point is taken in the plane of its triangle, mm: walking there over the
/// neighbours would not change it.
const NEAR_MM: f32 = 1.0;
/// Most triangles walked over, and steps within the last.
const MOST_STEPS: usize = 12;

/// The plane of one triangle with what a Newton step in it needs.
struct Facet {
    corners: [u32; 3],
    sides: [Vector3<f32>; 2],
    /// Entries of the Gram matrix of the two sides, and its determinant.
    gram: [f32; 3],
    det: f32,
}

/// A Newton step: the change of the barycentric weights and of the point.
struct Step {
    weights: [f32; 3],
    way: Vector3<f32>,
}

impl Facet {
    /// `None` for a triangle without area.
    fn new(skin: &Surface, triangle: u32) -> Option<Self> {
        let corners = skin.mesh().triangles[triangle as usize];
        let [a, b, c] = corners.map(|v| skin.mesh().points[v as usize]);
        let (ab, ac) = (b - a, c - a);
        let (e, f, g) = (ab.norm_squared(), ab.dot(&ac), ac.norm_squared());
        let det = e * g - f * f;
        (det > 1e-6 * e * g).then_some(Self { corners, sides: [ab, ac], gram: [e, f, g], det })
    }

    /// One Newton step in the plane towards the point whose interpolated normal goes through `p`; the normal is held
    /// for the step. `None` where the normals cancel out.
    fn step(&self, normals: &[Vector3<f32>], foot: &Hit, p: &Point3<f32>) -> Option<Step> {
        let [u, v, w] = foot.weights;
        let [na, nb, nc] = self.corners.map(|v| normals[v as usize]);
        let normal = (na * u + nb * v + nc * w).try_normalize(1e-6)?;
        let away = p - foot.point;
        let off = away - normal * normal.dot(&away);
        let ([ab, ac], [e, f, g]) = (&self.sides, self.gram);
        let (x, y) = (off.dot(ab), off.dot(ac));
        let (dv, dw) = ((g * x - f * y) / self.det, (e * y - f * x) / self.det);
        Some(Step { weights: [-dv - dw, dv, dw], way: ab * dv + ac * dw })
    }
}

/// The foot point of `p` by these vertex normals, sought from a point `hit` near it, and whether it was reached: one farther
/// off than [`REACH_MM`] is not, and what is given lies on the way to it. At an open end of the skin its weights may leave
/// 0..=1 a little.
pub(super) fn foot_point(skin: &Surface, normals: &[Vector3<f32>], p: &Point3<f32>, hit: &Hit) -> (Hit, bool) {
    let near = in_triangle(skin, normals, p, hit);
    if (near.point - hit.point).norm_squared() < NEAR_MM * NEAR_MM {
        (near, true)
    } else {
        by_walking(skin, normals, p, hit)
    }
}

/// The foot point in the plane of the triangle hit, which is as good where it is near.
fn in_triangle(skin: &Surface, normals: &[Vector3<f32>], p: &Point3<f32>, hit: &Hit) -> Hit {
    let Some(facet) = Facet::new(skin, hit.triangle) else { return *hit };
    let mut foot = *hit;
    for _ in 0..STEPS {
        let Some(step) = facet.step(normals, &foot, p) else { return *hit };
        advance(&mut foot, &step, 1.0);
    }
    foot
}

/// The foot point over the triangles between, one Newton step at a time, each cut short at the side where it leaves its
/// triangle.
fn by_walking(skin: &Surface, normals: &[Vector3<f32>], p: &Point3<f32>, hit: &Hit) -> (Hit, bool) {
    let mesh = skin.mesh();
    let mut foot = *hit;
    let mut settled = 0;
    for _ in 0..MOST_STEPS {
        let Some(facet) = Facet::new(skin, foot.triangle) else { return (foot, false) };
        let Some(step) = facet.step(normals, &foot, p) else { return (foot, false) };
        // Held back, not given up: a jump of the foot point would be a jump of the field, and a hole in the wall.
        let share = share_within(&(foot.point - hit.point), &step.way, REACH_MM);
        let (side, until) = exit_side(&foot, &step, share);
        let across =
            if until < share { skin.adjacency().neighbours[foot.triangle as usize][(side + 1) % 3] } else { NONE };
        if across == NONE {
            advance(&mut foot, &step, share);
            settled += 1;
            if settled == STEPS || share < 1.0 {
                return (foot, share == 1.0);
            }
            continue;
        }
        let until = until.max(0.0);
        let on_side = |v: u32| {
            let corner = facet.corners.iter().position(|w| *w == v).filter(|i| *i != side);
            corner.map_or(0.0, |i| foot.weights[i] + until * step.weights[i])
        };
        foot.weights = mesh.triangles[across as usize].map(on_side);
        foot.triangle = across;
        foot.point += step.way * until;
    }
    (foot, false)
}

/// Takes a share of a step.
fn advance(foot: &mut Hit, step: &Step, share: f32) {
    for (weight, change) in foot.weights.iter_mut().zip(step.weights) {
        *weight += share * change;
    }
    foot.point += step.way * share;
}

/// The corner opposite to the side over which the step leaves the triangle, and the share of the step until then;
/// `most` if that comes first.
fn exit_side(foot: &Hit, step: &Step, most: f32) -> (usize, f32) {
    let until = |k: usize| if step.weights[k] < 0.0 { foot.weights[k] / -step.weights[k] } else { f32::INFINITY };
    (0..3).map(|k| (k, until(k))).fold((0, most), |least, k| if k.1 < least.1 { k } else { least })
}

/// The share of `step`, at most all of it, that leads from `from` no farther than `reach` from the origin.
fn share_within(from: &Vector3<f32>, step: &Vector3<f32>, reach: f32) -> f32 {
    if (from + step).norm_squared() <= reach * reach {
        return 1.0;
    }
    // |from + t step|² = reach², the larger root.
    let (a, b, c) = (step.norm_squared(), from.dot(step), from.norm_squared() - reach * reach);
    ((-b + (b * b - a * c).max(0.0).sqrt()) / a.max(f32::MIN_POSITIVE)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample_skins::{Rough, tube};

    /// On a tube of radius R the foot point of any point off it lies straight below, whatever the triangles.
    #[test]
    fn the_foot_point_on_a_tube_lies_straight_below() {
        let radius = 30.0;
        let skin = tube(radius, 60.0, 2.0, Rough::default());
        let normals: Vec<Vector3<f32>> =
            skin.mesh().points.iter().map(|p| Vector3::new(p.x, p.y, 0.0).normalize()).collect();
        for i in 0..400 {
            let (turn, z, height) = (0.017 * i as f32, 0.05 * (i as f32 - 200.0), 0.02 * i as f32);
            let (sin, cos) = turn.sin_cos();
            let p = Point3::new((radius + height) * cos, (radius + height) * sin, z);
            let (foot, reached) = foot_point(&skin, &normals, &p, &skin.nearest(&p, None).unwrap());
            assert!(reached);
            let off = foot.point.y.atan2(foot.point.x) - turn;
            let off = (off + std::f32::consts::PI).rem_euclid(std::f32::consts::TAU) - std::f32::consts::PI;
            // Between the vertices the interpolated normals are not quite radial.
            assert!(
                (off * radius).abs() < 0.02 && (foot.point.z - z).abs() < 0.02,
                "{i}: {} mm, {}",
                off * radius,
                foot.point.z - z
            );
            assert!((foot.weights.iter().sum::<f32>() - 1.0).abs() < 1e-5);
        }
    }

    #[test]
    fn a_step_is_cut_where_it_leaves_its_reach() {
        let share = share_within(&Vector3::new(1.0, 0.0, 0.0), &Vector3::new(4.0, 0.0, 0.0), 2.0);
        assert!((share - 0.25).abs() < 1e-6);
        assert!((share_within(&Vector3::zeros(), &Vector3::new(0.0, 1.0, 0.0), 2.0) - 1.0).abs() < 1e-6);
    }
}
