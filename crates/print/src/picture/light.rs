//! Light on a surface: a warm lamp from the upper left, a cool fill from the right, a soft sky.

use super::Finish;
use super::legible::luminance_of;
use nalgebra::Vector3;

/// How a surface reflects light.
#[derive(Debug, Clone, Copy)]
pub struct Shine {
    /// How far light wraps round into the shade, 0 to 1: high for skin.
    pub wrap: f32,
    /// Strength of the highlight.
    pub strength: f32,
    /// How small it is: the exponent of Blinn's cosine.
    pub sharpness: i32,
    /// Light and shade show form as plainly on a dark tone as on a pale one.
    pub even: bool,
    /// How far down the lamps reach in a reflection, from 0 for points to 1 for tall lamps down to the viewer's height:
    /// a mirror shows the shape of a lamp.
    pub tall: f32,
}

/// Skin: soft, dull.
pub const SKIN: Shine = Shine { wrap: 0.45, strength: 0.03, sharpness: 28, even: true, tall: 0.0 };

/// Printed plastic: matt without a highlight, satin with a broad one, gloss with a small and strong one.
pub const fn plastic(finish: Finish) -> Shine {
    match finish {
        Finish::Matt => Shine { wrap: 0.3, strength: 0.0, sharpness: 1, even: false, tall: 0.0 },
        Finish::Satin => Shine { wrap: 0.2, strength: 0.22, sharpness: 28, even: false, tall: 0.0 },
        Finish::Gloss => Shine { wrap: 0.15, strength: 0.45, sharpness: 160, even: false, tall: 1.0 },
    }
}

/// How the contrast of light and shade grows on darker skin, so that form shows as plainly on every tone.
///
/// Perceived lightness goes with the cube root of luminance (CIE 1976: L* = 116 Y^⅓ − 16), so the same ratio of light
/// to shade is a step of lightness that shrinks with Y^⅓. The exponent (pale / Y)^⅓ makes the steps equal again.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EvenLight {
    /// Luminance of a pale skin, on which light and shade stay as they are.
    pub pale: f32,
    /// Greatest exponent: contrast does not grow on tones darker than the darkest skin.
    pub most: f32,
    /// Light that stays as it is when contrast grows: a little less than what falls on a face turned to the viewer.
    pub pivot: f32,
}

/// The rule for skin, in drawn pictures and in the window.
pub const EVEN_LIGHT: EvenLight = EvenLight { pale: 0.57, most: 2.4, pivot: 0.8 };

impl EvenLight {
    /// The exponent of light and shade on a linear colour.
    #[must_use]
    pub fn exponent(&self, albedo: [f32; 3]) -> f32 {
        (self.pale / luminance_of(albedo).max(1e-4)).cbrt().clamp(1.0, self.most)
    }

    /// The factor for light of this level.
    fn factor(&self, albedo: [f32; 3], level: f32) -> f32 {
        (level.max(1e-4) / self.pivot).powf(self.exponent(albedo) - 1.0)
    }
}

struct Lamp {
    from: [f32; 3],
    colour: [f32; 3],
}

const LAMPS: [Lamp; 3] = [
    Lamp { from: [-0.50, 0.62, 0.60], colour: [1.02, 0.97, 0.90] },
    Lamp { from: [0.80, 0.05, 0.60], colour: [0.20, 0.23, 0.28] },
    Lamp { from: [0.45, 0.55, -0.70], colour: [0.26, 0.27, 0.28] },
];
const SKY: [f32; 3] = [0.25, 0.26, 0.28];
const GROUND: [f32; 3] = [0.15, 0.13, 0.11];

/// Linear light that reaches the viewer from a surface with this unit normal, seen as right, up, towards the viewer.
pub fn shade(albedo: [f32; 3], normal: Vector3<f32>, shine: Shine) -> [f32; 3] {
    let high = 0.5 + 0.5 * normal.y;
    let mut light: [f32; 3] = std::array::from_fn(|k| GROUND[k] + (SKY[k] - GROUND[k]) * high);
    let mut glint = 0.0;
    // The direction that the surface mirrors to the viewer, who is far away along z.
    let mirrored = 2.0 * normal.z * normal - Vector3::z();
    let slope = mirrored.y / mirrored.x.hypot(mirrored.z).max(1e-6);
    for lamp in &LAMPS {
        let from = Vector3::from(lamp.from).normalize();
        let wrapped = ((normal.dot(&from) + shine.wrap) / (1.0 + shine.wrap)).max(0.0);
        for (sum, colour) in light.iter_mut().zip(lamp.colour) {
            *sum += colour * wrapped;
        }
        // Blinn's half-way vector to the point of the lamp that is mirrored best.
        let low = from.y * (1.0 - shine.tall);
        let height = (slope * from.x.hypot(from.z)).clamp(low.min(from.y), low.max(from.y));
        let best = Vector3::new(from.x, height, from.z).normalize();
        let half = (best + Vector3::z()).normalize();
        glint += shine.strength * lamp.colour[1] * normal.dot(&half).max(0.0).powi(shine.sharpness);
    }
    if shine.even {
        let even = EVEN_LIGHT.factor(albedo, luminance_of(light));
        light = light.map(|l| l * even);
    }
    std::array::from_fn(|k| albedo[k] * light[k] + glint)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Blinn's highlight falls to half where cosⁿ of the angle to the half-way vector is a half.
    #[test]
    fn gloss_shines_small_and_strong_satin_broad_and_matt_not_at_all() {
        let half = (Vector3::from(LAMPS[0].from).normalize() + Vector3::z()).normalize();
        // Upward, beyond the upper end of the lamp.
        let side = half.cross(&Vector3::x()).normalize();
        let glint =
            |finish: Finish, angle: f32| shade([0.0; 3], half * angle.cos() + side * angle.sin(), plastic(finish))[1];
        assert_eq!(glint(Finish::Matt, 0.0), 0.0);
        let [satin, gloss] = [28.0, 160.0].map(|n: f32| 0.5_f32.powf(1.0 / n).acos());
        assert!((satin.to_degrees() - 12.7).abs() < 0.1 && (gloss.to_degrees() - 5.3).abs() < 0.1);
        // Two weaker lamps add a little, less where the highlight is small.
        assert!((glint(Finish::Gloss, gloss) / glint(Finish::Gloss, 0.0) - 0.5).abs() < 0.02);
        assert!((glint(Finish::Satin, satin) / glint(Finish::Satin, 0.0) - 0.5).abs() < 0.06);
        assert!(glint(Finish::Gloss, 0.0) > 2.0 * glint(Finish::Satin, 0.0));
        assert!(glint(Finish::Gloss, 0.3) < glint(Finish::Satin, 0.3));
        // Gloss mirrors the tall lamp as brightly half way down, so it shows on an upright tube; a point lamp would
        // not.
        let [x, y, z] = LAMPS[0].from;
        let lower = (Vector3::new(x, 0.5 * y, z).normalize() + Vector3::z()).normalize();
        let there = |finish| shade([0.0; 3], lower, plastic(finish))[1];
        assert!((there(Finish::Gloss) / glint(Finish::Gloss, 0.0) - 1.0).abs() < 0.01);
        assert!(there(Finish::Satin) < 0.75 * glint(Finish::Satin, 0.0));
    }
}
