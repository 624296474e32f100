//! Skin colour as a scanner's camera sees it: mottled, flushed over bone, shaded, with moles and the pen line.

use crate::form::V;
use crate::model::Model;
use crate::pen_line::PenLine;
use crate::random::{Random, noise};

/// Everything that decides the colour of a skin point.
pub(crate) struct Paint<'a> {
    model: &'a Model,
    tone: [f64; 3],
    line: Option<&'a PenLine>,
    moles: Vec<(V, f64)>,
    lamp: V,
    seed: u64,
}

impl<'a> Paint<'a> {
    pub(crate) fn new(
        model: &'a Model,
        skin: &[V],
        tone: [f64; 3],
        line: Option<&'a PenLine>,
        random: &mut Random,
    ) -> Self {
        let moles = (0..4).map(|_| (skin[random.below(skin.len())], random.between(1.2, 2.6))).collect();
        let lamp = V::new(random.normal(), random.normal(), random.normal() + 1.0).normalize();
        Self { model, tone, line, moles, lamp, seed: random.below(1 << 30) as u64 }
    }

    /// sRGB at a skin point, 0 to 255 but not yet rounded.
    pub(crate) fn colour(&self, p: &V) -> [f64; 3] {
        let normal = self.model.form.normal(p);
        let mottle = 0.035 * noise(&(p / 31.0), self.seed)
            + 0.022 * noise(&(p / 11.0), self.seed + 1)
            + 0.014 * noise(&(p / 3.7), self.seed + 2);
        let mut red = 0.05 * noise(&(p / 24.0), self.seed + 3) + 0.02 * noise(&(p / 6.0), self.seed + 4);
        for (middle, reach) in &self.model.flush {
            let t = ((p - middle).norm() / reach).min(1.0);
            red += 0.11 * (1.0 - t * t) * (1.0 - t * t);
        }
        let mut colour = [
            self.tone[0] * (1.0 + mottle + 0.25 * red),
            self.tone[1] * (1.0 + mottle - 0.75 * red),
            self.tone[2] * (1.0 + mottle - 0.65 * red),
        ];
        for (middle, up, half) in &self.model.nails {
            if (p - middle).norm() < half * 1.25 && normal.dot(up) > 0.55 {
                let nail = [self.tone[0] * 0.6 + 98.0, self.tone[1] * 0.55 + 84.0, self.tone[2] * 0.55 + 82.0];
                let t = ((half * 1.25 - (p - middle).norm()) / 1.2).clamp(0.0, 1.0);
                colour = std::array::from_fn(|k| colour[k] + (nail[k] - colour[k]) * t);
            }
        }
        for (middle, radius) in &self.moles {
            let t = ((radius + 0.5 - (p - middle).norm()) / 1.0).clamp(0.0, 1.0);
            let dark = [0.42, 0.34, 0.30];
            colour = std::array::from_fn(|k| colour[k] * (1.0 - t * (1.0 - dark[k])));
        }
        if let Some(line) = self.line {
            let (ink, cover) = line.ink_at(p, &normal);
            colour = std::array::from_fn(|k| colour[k] + (ink[k] - colour[k]) * cover);
        }
        // A soft lamp, and ambient occlusion where skin faces skin.
        let open = (self.model.form.value(&(p + normal * 9.0)) / 9.0).clamp(0.0, 1.0);
        let light = (0.87 + 0.13 * normal.dot(&self.lamp)) * (0.68 + 0.32 * open);
        colour.map(|c| c * light)
    }
}

/// Rounds a colour after adding camera noise.
pub(crate) fn grain(colour: [f64; 3], sigma: f64, random: &mut Random) -> [u8; 3] {
    let common = random.normal() * sigma;
    colour.map(|c| (c + common + random.normal() * sigma * 0.5).clamp(0.0, 255.0).round() as u8)
}
