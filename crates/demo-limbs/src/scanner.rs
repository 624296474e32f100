//! What a hand-held scanner does to a perfect skin: ragged ends, holes, noise, loose bits and an arbitrary pose.

use nalgebra::{UnitQuaternion, Vector3};

use crate::catalogue::DemoLimb;
use crate::form::{V, v};
use crate::isosurface::{Skin, drop_unused};
use crate::model::Model;
use crate::random::{Random, noise};

/// How the limb lies in its file: `file = (turn · mirror(limb) + shift) / unit`.
pub(crate) struct Pose {
    pub turn: UnitQuaternion<f64>,
    pub shift: V,
    pub unit_mm: f64,
    pub mirror: bool,
}

impl Pose {
    pub(crate) fn file_from_limb(&self, p: &V) -> V {
        let mirrored = if self.mirror { v(-p.x, p.y, p.z) } else { *p };
        (self.turn * mirrored + self.shift) / self.unit_mm
    }
}

/// Cuts the ends raggedly and tears holes; points keep their order.
pub(crate) fn tear(skin: &mut Skin, model: &Model, limb: &DemoLimb, random: &mut Random) {
    let seed = random.below(1 << 30) as u64;
    let holes: Vec<(V, f64)> = (0..limb.holes)
        .map(|k| {
            // The first hole lies on the pen line.
            let near_line = model.line[random.below(model.line.len())];
            let anywhere = skin.points[random.below(skin.points.len())];
            if k == 0 { (near_line, 2.2) } else { (anywhere, random.between(2.5, 6.5)) }
        })
        .collect();
    let points = std::mem::take(&mut skin.points);
    skin.triangles.retain(|t| {
        let middle = t.iter().map(|&i| points[i as usize]).sum::<V>() / 3.0;
        let ragged = 3.0 * noise(&(middle / 7.0), seed) + 1.5 * noise(&(middle / 2.5), seed + 1);
        (model.seen)(&middle) + ragged > 0.0
            && holes.iter().all(|(at, radius)| (middle - at).norm() > radius + 0.9 * noise(&(middle / 2.0), seed + 2))
    });
    skin.points = points;
    drop_unused(skin);
}

/// Moves points along the normals by noise: mostly fine grain, partly waves a few points long.
pub(crate) fn shake(skin: &[V], model: &Model, limb: &DemoLimb, random: &mut Random) -> Vec<V> {
    let seed = random.below(1 << 30) as u64;
    skin.iter()
        .map(|p| {
            let offset = limb.noise_mm * (0.9 * random.normal() + 0.6 * noise(&(p / 5.0), seed));
            p + model.form.normal(p) * offset
        })
        .collect()
}

/// Small pieces that float beside the limb.
pub(crate) fn loose_bits(skin: &Skin, count: usize, random: &mut Random) -> Skin {
    let mut bits = Skin::default();
    let middle = skin.points.iter().sum::<V>() / skin.points.len().max(1) as f64;
    for _ in 0..count {
        let near = skin.points[random.below(skin.points.len())];
        let away = (near - middle).try_normalize(1e-6).unwrap_or_else(V::x);
        let centre = near + away * random.between(8.0, 30.0);
        let turn = random.turn();
        let side = 2 + random.below(3);
        let first = bits.points.len() as u32;
        let step = random.between(1.2, 2.2);
        for j in 0..=side {
            for i in 0..=side {
                let flat = Vector3::new(i as f64, j as f64, 0.35 * random.normal()) * step;
                bits.points.push(centre + turn * flat);
            }
        }
        let row = side as u32 + 1;
        for j in 0..side as u32 {
            for i in 0..side as u32 {
                let a = first + j * row + i;
                bits.triangles.push([a, a + 1, a + row + 1]);
                bits.triangles.push([a, a + row + 1, a + row]);
            }
        }
    }
    bits
}
