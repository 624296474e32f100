//! The shades of a picture that is raised on the outer face.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

/// Shades in rows from the top: 0 is the plain face and 255 the full height. At most 256 in a row and 256 rows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tones {
    /// Shades in a row.
    pub columns: usize,
    /// Row by row from the top, from left to right; one byte each, in base64 in the file.
    #[serde(serialize_with = "to_base64", deserialize_with = "from_base64")]
    pub values: Vec<u8>,
}

impl Tones {
    /// Most shades in a row, and most rows.
    pub const MOST: usize = 256;

    /// How many rows there are.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.values.len() / self.columns.max(1)
    }

    /// What is wrong with them, as what they must be.
    pub(crate) fn fault(&self) -> Option<&'static str> {
        let sides = 2..=Self::MOST;
        let whole = self.columns > 0 && self.values.len().is_multiple_of(self.columns);
        if !whole || !sides.contains(&self.columns) || !sides.contains(&self.rows()) {
            Some("2 to 256 rows of 2 to 256 shades each")
        } else if self.values.iter().all(|v| *v == 0) {
            Some("a picture with something on it")
        } else {
            None
        }
    }

    /// The shade at a place, 0 to 1, from 0 to 1 to the right and upwards; outside it is 0.
    #[must_use]
    pub(crate) fn at(&self, [right, up]: [f32; 2]) -> f32 {
        let (columns, rows) = (self.columns, self.rows());
        // Shades stand for the middles of their cells.
        let (x, y) = (right * columns as f32 - 0.5, (1.0 - up) * rows as f32 - 0.5);
        let shade = |i: f32, j: f32| {
            let inside = i >= 0.0 && j >= 0.0 && i < columns as f32 && j < rows as f32;
            if inside { f32::from(self.values[j as usize * columns + i as usize]) / 255.0 } else { 0.0 }
        };
        let (i, j) = (x.floor(), y.floor());
        let (s, t) = (x - i, y - j);
        let row = |j: f32| shade(i, j) * (1.0 - s) + shade(i + 1.0, j) * s;
        row(j) * (1.0 - t) + row(j + 1.0) * t
    }
}

fn to_base64<S: Serializer>(values: &[u8], to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(&STANDARD.encode(values))
}

fn from_base64<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<u8>, D::Error> {
    let text = String::deserialize(from)?;
    STANDARD.decode(text).map_err(|_| de::Error::custom("shades that are not in base64"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shades_lie_with_the_first_row_on_top_and_fade_to_nothing_outside() {
        let tones = Tones { columns: 2, values: vec![255, 0, 0, 0, 51, 0] };
        assert_eq!(tones.rows(), 3);
        assert!((tones.at([0.25, 5.0 / 6.0]) - 1.0).abs() < 1e-6);
        assert!((tones.at([0.25, 1.0 / 6.0]) - 0.2).abs() < 1e-6);
        assert!((tones.at([0.5, 5.0 / 6.0]) - 0.5).abs() < 1e-6);
        assert_eq!(tones.at([-0.5, 0.5]), 0.0);
    }

    #[test]
    fn they_are_written_in_base64_and_read_back() {
        let tones = Tones { columns: 2, values: vec![255, 0, 3, 4] };
        let text = serde_json::to_string(&tones).unwrap();
        assert_eq!(text, r#"{"columns":2,"values":"/wADBA=="}"#);
        assert_eq!(serde_json::from_str::<Tones>(&text).unwrap(), tones);
        assert!(serde_json::from_str::<Tones>(r#"{"columns":2,"values":"é"}"#).is_err());
    }

    #[test]
    fn what_is_no_picture_is_told() {
        let fault = |columns, values: Vec<u8>| Tones { columns, values }.fault();
        assert_eq!(fault(2, vec![0, 9, 0, 0]), None);
        assert_eq!(fault(2, vec![0; 4]), Some("a picture with something on it"));
        for (columns, count) in [(0, 4), (2, 5), (1, 4), (300, 600)] {
            assert_eq!(fault(columns, vec![1; count]), Some("2 to 256 rows of 2 to 256 shades each"));
        }
    }
}
