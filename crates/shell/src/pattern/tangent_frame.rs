//! Logarithmic and exponential map of the skin over short distances, from points and normals alone.
//!
//! Patterns need them hundreds of thousands of times, so no piece of the skin is flattened for them. Between two points
//! the skin is taken as the arc that fits both normals: exact on planes, cylinders and spheres, and good to about one
//! part in two hundred over the few centimetres that a pattern looks ahead on a limb.

use mesh::{Hit, Surface};
use nalgebra::{Point3, Vector3};

use crate::skin_directions;

/// Largest error of the exponential map, as a share of the distance.
const ARRIVED: f32 = 0.04;

/// A point of the skin with its tangent plane, directed *around* and *along* the limb as a [`crate::Chart`] is.
#[derive(Debug, Clone, Copy)]
pub struct TangentFrame {
    /// The skin point.
    pub hit: Hit,
    /// Unit normal.
    pub normal: Vector3<f32>,
    /// Unit direction *around* the limb.
    pub around: Vector3<f32>,
    /// Unit direction *along* the limb.
    pub along: Vector3<f32>,
}

impl TangentFrame {
    /// The frame at a skin point.
    pub fn new(skin: &Surface, hit: Hit) -> Self {
        let normal = skin.normal_at(&hit);
        let (around, along) = skin_directions(&normal);
        Self { hit, normal, around, along }
    }

    /// Its place, limb axes, mm.
    pub fn point(&self) -> Point3<f32> {
        self.hit.point
    }

    /// The logarithmic map: direction and distance from here to `other` in this tangent plane, (around, along), mm.
    pub fn log_map(&self, other: &Self) -> [f32; 2] {
        self.log_map_of(&other.hit.point, &other.normal)
    }

    /// The logarithmic map of a skin point with this normal.
    pub fn log_map_of(&self, point: &Point3<f32>, normal: &Vector3<f32>) -> [f32; 2] {
        let chord = point - self.hit.point;
        let middle = (self.normal + normal).try_normalize(1e-3).unwrap_or(self.normal);
        let mut way = chord - middle * chord.dot(&middle);
        // The arc is longer than its chord, in the direction in which the normal turns.
        let turn = normal - self.normal;
        let half_sine = (turn.norm() * 0.5).min(1.0);
        if half_sine > 1e-4 {
            let turn = turn.normalize();
            way += turn * (turn.dot(&way) * (half_sine.asin() / half_sine - 1.0));
        }
        let way = rotate(&middle, &self.normal, &way);
        [way.dot(&self.around), way.dot(&self.along)]
    }

    /// The direction (around, along) as a vector in space.
    pub fn vector(&self, way: [f32; 2]) -> Vector3<f32> {
        self.around * way[0] + self.along * way[1]
    }

    /// A vector at `other`, parallel transported here.
    pub fn transport_from(&self, other: &Self, vector: &Vector3<f32>) -> [f32; 2] {
        let v = rotate(&other.normal, &self.normal, vector);
        [v.dot(&self.around), v.dot(&self.along)]
    }

    /// The exponential map: the skin point that lies `way` from here; `None` where the skin ends before it or folds.
    pub fn exp_map(&self, skin: &Surface, way: [f32; 2]) -> Option<Self> {
        let length = (way[0] * way[0] + way[1] * way[1]).sqrt();
        let mut aim = self.hit.point + self.vector(way);
        let mut seed = self.hit.triangle;
        let mut best: Option<(f32, Self)> = None;
        for _ in 0..4 {
            let hit = skin.nearest(&aim, Some(seed))?;
            let frame = Self::new(skin, hit);
            if frame.normal.dot(&self.normal) <= 0.0 {
                break;
            }
            let got = self.log_map(&frame);
            let miss = [way[0] - got[0], way[1] - got[1]];
            let off = (miss[0] * miss[0] + miss[1] * miss[1]).sqrt();
            if best.as_ref().is_none_or(|(least, _)| off < *least) {
                best = Some((off, frame));
            }
            if off < 2e-3 {
                break;
            }
            seed = hit.triangle;
            aim = hit.point + rotate(&self.normal, &frame.normal, &self.vector(miss));
        }
        let (off, frame) = best?;
        (off <= ARRIVED * length + 2e-3).then_some(frame)
    }
}

/// Turns `v` by the smallest turn that takes unit vector `from` to unit vector `to`.
fn rotate(from: &Vector3<f32>, to: &Vector3<f32>, v: &Vector3<f32>) -> Vector3<f32> {
    let cosine = from.dot(to);
    if cosine < -0.99 {
        return *v;
    }
    let axis = from.cross(to);
    v * cosine + axis.cross(v) + axis * (axis.dot(v) / (1.0 + cosine))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample_skins::{cylinder, sphere};
    use approx::assert_relative_eq;

    #[test]
    fn ways_on_a_cylinder_are_those_of_the_unrolled_sheet() {
        let skin = cylinder(40.0, 120.0, 0.8);
        let at = |angle: f32, z: f32| {
            let p = Point3::new(40.0 * angle.cos(), 40.0 * angle.sin(), z);
            TangentFrame::new(&skin, skin.nearest(&p, None).unwrap())
        };
        let (from, to) = (at(0.3, -5.0), at(0.65, 9.0));
        let way = from.log_map(&to);
        assert_relative_eq!(way[0], 40.0 * 0.35, epsilon = 0.03);
        assert_relative_eq!(way[1], 14.0, epsilon = 0.02);
        let arrived = from.exp_map(&skin, way).unwrap();
        assert!((arrived.point() - to.point()).norm() < 0.02);
        // 6 mm out, distances around grow by 6 / 40.
    }

    #[test]
    fn ways_on_a_sphere_are_great_arcs() {
        let skin = sphere(50.0, 1.0);
        let at = |p: Vector3<f32>| {
            TangentFrame::new(&skin, skin.nearest(&Point3::from(p.normalize() * 50.0), None).unwrap())
        };
        let (from, to) = (at(Vector3::new(1.0, 0.1, 0.2)), at(Vector3::new(1.0, 0.4, 0.1)));
        let way = from.log_map(&to);
        let length = way[0].hypot(way[1]);
        let arc = 50.0 * from.point().coords.angle(&to.point().coords);
        assert_relative_eq!(length, arc, epsilon = 0.03);
    }

    #[test]
    fn a_walk_off_the_skin_ends_nowhere() {
        let skin = cylinder(40.0, 60.0, 1.5);
        let hit = skin.nearest(&Point3::new(40.0, 0.0, 28.0), None).unwrap();
        assert!(TangentFrame::new(&skin, hit).exp_map(&skin, [0.0, 9.0]).is_none());
    }
}
