//! Light on a surface: a warm lamp from the upper left, a cool fill from the right, a soft sky.

use nalgebra::Vector3;

/// How a surface answers light.
#[derive(Debug, Clone, Copy)]
pub struct Finish {
    /// How far light reaches round into the shade, 0 to 1: high for skin.
    pub wrap: f32,
    /// Strength of the highlight.
    pub shine: f32,
}

/// Skin: soft, dull.
pub const SKIN: Finish = Finish { wrap: 0.45, shine: 0.03 };
/// Printed plastic: a broad highlight.
pub const PLASTIC: Finish = Finish { wrap: 0.2, shine: 0.22 };

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
pub fn shade(albedo: [f32; 3], normal: Vector3<f32>, finish: Finish) -> [f32; 3] {
    let high = 0.5 + 0.5 * normal.y;
    let mut light: [f32; 3] = std::array::from_fn(|k| GROUND[k] + (SKY[k] - GROUND[k]) * high);
    let mut glint = 0.0;
    for lamp in &LAMPS {
        let from = Vector3::from(lamp.from).normalize();
        let wrapped = ((normal.dot(&from) + finish.wrap) / (1.0 + finish.wrap)).max(0.0);
        for (sum, colour) in light.iter_mut().zip(lamp.colour) {
            *sum += colour * wrapped;
        }
        // Blinn's half-way vector, the viewer being far away along z.
        let half = (from + Vector3::z()).normalize();
        glint += finish.shine * lamp.colour[1] * normal.dot(&half).max(0.0).powi(28);
    }
    std::array::from_fn(|k| albedo[k] * light[k] + glint)
}
