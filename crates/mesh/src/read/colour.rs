//! Point colours as files store them: 8-bit or 16-bit integers, or fractions of 1.

use super::ply_header::Scalar;

/// The colour of a point that has none.
const WHITE: [u8; 3] = [255; 3];

/// Colours gathered so far, as numbers of unknown range.
#[derive(Debug, Default)]
pub(super) struct Colours {
    values: Vec<[f32; 3]>,
    greatest: f32,
    stored: Option<Scalar>,
}

impl Colours {
    /// Says how a PLY stores them; without this, 0..1, 0..255 and 0..65535 are told apart by the greatest value.
    pub(super) fn stored_as(&mut self, scalar: Scalar) {
        self.stored = Some(scalar);
    }

    /// Sets the colour of point `i`; points before it that got none stay without.
    pub(super) fn push(&mut self, i: usize, rgb: [f32; 3]) {
        self.values.resize(i, [f32::NAN; 3]);
        self.values.push(rgb);
        self.greatest = rgb.iter().fold(self.greatest, |g, v| if v.is_finite() { g.max(*v) } else { g });
    }

    /// The colours as bytes; `None` where no point has one.
    pub(super) fn finish(mut self, points: usize, warnings: &mut Vec<String>) -> Option<Vec<[u8; 3]>> {
        if self.values.is_empty() {
            return None;
        }
        self.values.resize(points, [f32::NAN; 3]);
        let scale = match self.stored {
            Some(Scalar::U8 | Scalar::I8) => 1.0,
            Some(Scalar::U16 | Scalar::I16) => 255.0 / 65_535.0,
            _ if self.greatest <= 1.0 => 255.0,
            _ if self.greatest <= 255.0 => 1.0,
            _ => 255.0 / 65_535.0,
        };
        let readable = |rgb: &[f32; 3]| rgb.iter().all(|v| v.is_finite());
        let without = self.values.iter().filter(|rgb| !readable(rgb)).count();
        if without == points {
            warnings.push("no point has a readable colour".into());
            return None;
        }
        if without > 0 {
            warnings.push(format!("{without} of {points} points have no readable colour and were made white"));
        }
        let byte = |v: f32| (v * scale).round().clamp(0.0, 255.0) as u8;
        Some(self.values.iter().map(|rgb| if readable(rgb) { rgb.map(byte) } else { WHITE }).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bytes(stored: Option<Scalar>, values: &[[f32; 3]]) -> Option<Vec<[u8; 3]>> {
        let mut colours = Colours { stored, ..Colours::default() };
        values.iter().enumerate().for_each(|(i, v)| colours.push(i, *v));
        colours.finish(values.len(), &mut Vec::new())
    }

    #[test]
    fn ranges_are_told_apart() {
        assert_eq!(bytes(None, &[[0.0, 0.5, 1.0]]), Some(vec![[0, 128, 255]]));
        assert_eq!(bytes(None, &[[0.0, 128.0, 255.0]]), Some(vec![[0, 128, 255]]));
        assert_eq!(bytes(Some(Scalar::U8), &[[0.0, 1.0, 1.0]]), Some(vec![[0, 1, 1]]));
        assert_eq!(bytes(Some(Scalar::U16), &[[0.0, 32_768.0, 65_535.0]]), Some(vec![[0, 128, 255]]));
        assert_eq!(bytes(None, &[]), None);
    }

    #[test]
    fn points_without_a_colour_are_white_and_said() {
        let mut colours = Colours::default();
        colours.push(1, [1.0, 0.0, 0.0]);
        let mut warnings = Vec::new();
        assert_eq!(colours.finish(3, &mut warnings), Some(vec![WHITE, [255, 0, 0], WHITE]));
        assert_eq!(warnings.len(), 1);
    }
}
