//! How a guard looks when it is shown to the athlete: colour, finish, and what is laid on its outer face.

use serde::{Deserialize, Serialize};

use crate::KeptFile;
use crate::parse::Wrong;

/// Largest picture that a design file may hold, bytes.
const LARGEST_PICTURE: u64 = 8 << 20;

/// How the guard looks. None of it changes the shell.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Appearance {
    /// Colour of the plastic: red, green, blue of sRGB, 0 to 255.
    pub colour: [u8; 3],
    /// Its finish: `matt`, `satin` or `gloss`.
    pub finish: Finish,
    /// Colour of inlays.
    pub inlay_colour: [u8; 3],
    /// What lies on the outer face.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub artwork: Option<Artwork>,
}

impl Default for Appearance {
    fn default() -> Self {
        Self { colour: [240, 226, 196], finish: Finish::Satin, inlay_colour: [30, 42, 68], artwork: None }
    }
}

/// How the plastic reflects light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Finish {
    /// No shine.
    Matt,
    /// As printed.
    Satin,
    /// Varnished.
    Gloss,
}

/// A picture or pattern on the outer face.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Artwork {
    /// What it is.
    pub art: Art,
    /// How it is laid on: `flat`, projected from the front, or `round` the limb.
    pub laid: Laid,
    /// Direction of its front: turn about the limb's z axis from x, −360 to 360 degrees.
    pub front_deg: f32,
    /// Width of the picture, or of one repeat of the pattern, 4 to 500 mm.
    pub width_mm: f32,
    /// From the middle of the guard: to the right and up, each −500 to 500 mm.
    pub shift_mm: [f32; 2],
}

/// What lies on the outer face.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Art {
    /// A picture (PNG or JPEG), kept inside the design file.
    Picture(KeptFile),
    /// A pattern in a second colour.
    Pattern {
        /// Which: `stripes`, `dots`, `chevrons` or `waves`.
        kind: PatternKind,
        /// Its colour, as that of the plastic.
        colour: [u8; 3],
    },
}

/// A pattern.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PatternKind {
    /// Slanted stripes.
    Stripes,
    /// Dots in staggered rows.
    Dots,
    /// Arrowheads pointing up.
    Chevrons,
    /// Wavy lines round the limb.
    Waves,
}

/// How artwork is laid on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Laid {
    /// Projected from the front.
    Flat,
    /// Round the limb.
    Round,
}

impl Appearance {
    pub(crate) fn check(&self) -> Result<(), Wrong> {
        let Some(artwork) = &self.artwork else { return Ok(()) };
        let wrong = |field: &str, value: f32, allowed: &str| {
            Err((format!("look.artwork.{field}"), value.to_string(), allowed.to_owned()))
        };
        if !(-360.0..=360.0).contains(&artwork.front_deg) {
            return wrong("front_deg", artwork.front_deg, "between -360 and 360");
        }
        if !(4.0..=500.0).contains(&artwork.width_mm) {
            return wrong("width_mm", artwork.width_mm, "between 4 and 500 mm");
        }
        for (n, shift) in artwork.shift_mm.iter().enumerate() {
            if !(-500.0..=500.0).contains(shift) {
                return wrong(&format!("shift_mm[{n}]"), *shift, "between -500 and 500 mm");
            }
        }
        if let Art::Picture(picture) = &artwork.art {
            let field = "look.artwork.art.picture";
            crate::parse::check_kept(picture, field)?;
            if picture.inside.is_none() {
                let allowed = "kept inside the design file, in base64".to_owned();
                return Err((format!("{field}.inside"), "missing".to_owned(), allowed));
            }
            if picture.bytes > LARGEST_PICTURE {
                let allowed = format!("at most {LARGEST_PICTURE}");
                return Err((format!("{field}.bytes"), picture.bytes.to_string(), allowed));
            }
        }
        Ok(())
    }
}
