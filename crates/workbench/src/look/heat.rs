//! The colours of measured values: even steps in lightness, safe for colour-blind eyes.
//!
//! The colours are cividis, published by Nuñez, Anderton and Renslow, "Optimizing colormaps with consideration for
//! color vision deficiency to enable accurate interpretation of scientific data", PLoS ONE 13 (2018) e0199239, at every
//! 15th of its 256 entries (table as distributed with matplotlib); between them colours are mixed.

use bevy_egui::egui::Color32;

/// Entries 0, 15, …, 255 of the published table.
const CIVIDIS: [[u8; 3]; 18] = [
    [0, 34, 78],
    [0, 45, 104],
    [22, 55, 112],
    [46, 65, 109],
    [63, 76, 108],
    [78, 86, 108],
    [92, 97, 110],
    [105, 107, 113],
    [118, 118, 118],
    [131, 129, 121],
    [146, 140, 120],
    [160, 152, 117],
    [175, 164, 113],
    [191, 176, 107],
    [207, 189, 98],
    [223, 202, 87],
    [240, 216, 70],
    [254, 232, 56],
];

/// The colour of a value between 0 (dark, little) and 1 (light, much); values outside are clamped.
pub fn colour(share: f32) -> Color32 {
    let [r, g, b] = mixed(share).map(|v| (v + 0.5) as u8);
    Color32::from_rgb(r, g, b)
}

/// The same for the stage, as linear light.
pub fn linear(share: f32) -> [f32; 3] {
    palette::Srgb::from(mixed(share).map(|v| v / 255.0)).into_linear::<f32>().into()
}

fn mixed(share: f32) -> [f32; 3] {
    let steps = (CIVIDIS.len() - 1) as f32;
    let at = if share.is_finite() { share.clamp(0.0, 1.0) * steps } else { 0.0 };
    let low = (at as usize).min(CIVIDIS.len() - 2);
    let part = at - low as f32;
    [0, 1, 2].map(|k| f32::from(CIVIDIS[low][k]) * (1.0 - part) + f32::from(CIVIDIS[low + 1][k]) * part)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// L* of CIE 1976 from sRGB: IEC 61966-2-1 to linear light, its Y, and the cube-root law with its linear foot.
    fn lightness(share: f32) -> f64 {
        let [r, g, b] = linear(share).map(f64::from);
        let y = 0.212_672_9 * r + 0.715_152_2 * g + 0.072_175 * b;
        if y > 216.0 / 24_389.0 { 116.0 * y.cbrt() - 16.0 } else { y * 24_389.0 / 27.0 }
    }

    #[test]
    fn lightness_rises_in_even_steps() {
        let steps: Vec<f64> = (0..=100).map(|i| lightness(i as f32 / 100.0)).collect();
        let mean = (steps[100] - steps[0]) / 100.0;
        assert!(mean > 0.7, "{mean}");
        for (i, pair) in steps.windows(2).enumerate() {
            let step = pair[1] - pair[0];
            assert!((0.6 * mean..1.7 * mean).contains(&step), "step {i}: {step} against {mean}");
        }
    }

    #[test]
    fn lightness_alone_tells_the_values_of_the_legend_apart() {
        // Ten steps of a legend, each at least five units of L*, more than twice the just noticeable difference.
        let legend: Vec<f64> = (0..=10).map(|i| lightness(i as f32 / 10.0)).collect();
        assert!(legend.windows(2).all(|pair| pair[1] - pair[0] > 5.0), "{legend:?}");
    }

    #[test]
    fn the_ends_are_the_published_ones_and_what_is_outside_takes_them() {
        assert_eq!(colour(0.0), Color32::from_rgb(0, 34, 78));
        assert_eq!(colour(7.0), Color32::from_rgb(254, 232, 56));
        assert_eq!(colour(f32::NAN), colour(-1.0));
    }
}
