//! One spoilt input.

use crate::bend::bend;
use crate::chance::Chance;
use crate::files::{self, Files, Order};
use crate::garble::{double_a_field, garble};
use crate::samples::Samples;
use crate::spoil::spoil;

/// The kinds of files that are spoilt.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    BinaryStl,
    TextStl,
    Obj,
    TextPly,
    BinaryPly,
    Design,
    Strokes,
    Outline,
    Materials,
}

impl Kind {
    /// All kinds, the more important ones more often.
    const DRAWN: [Self; 14] = [
        Self::BinaryStl,
        Self::BinaryStl,
        Self::TextStl,
        Self::Obj,
        Self::Obj,
        Self::TextPly,
        Self::BinaryPly,
        Self::Design,
        Self::Design,
        Self::Design,
        Self::Design,
        Self::Strokes,
        Self::Outline,
        Self::Materials,
    ];

    /// As typed after `--only`.
    pub fn word(self) -> &'static str {
        match self {
            Self::BinaryStl => "binary-stl",
            Self::TextStl => "text-stl",
            Self::Obj => "obj",
            Self::TextPly => "text-ply",
            Self::BinaryPly => "binary-ply",
            Self::Design => "design",
            Self::Strokes => "strokes",
            Self::Outline => "outline",
            Self::Materials => "materials",
        }
    }

    pub fn named(word: &str) -> Option<Self> {
        Self::DRAWN.into_iter().find(|kind| kind.word() == word)
    }

    pub fn words() -> String {
        let mut words = Self::DRAWN.map(Self::word).to_vec();
        words.dedup();
        words.join(", ")
    }

    pub fn draw(chance: &mut Chance) -> Self {
        *chance.of(&Self::DRAWN)
    }
}

/// A spoilt input.
pub struct Case {
    pub kind: Kind,
    /// The first one is opened; the others are what it names.
    pub files: Files,
    /// What was done to it.
    pub how: Vec<&'static str>,
}

impl Case {
    pub fn draw(kind: Kind, samples: &Samples, chance: &mut Chance) -> Self {
        match kind {
            Kind::Design => Self::json(kind, chance.below(samples.designs.len()), samples, chance),
            Kind::Strokes | Kind::Outline | Kind::Materials => Self::json(kind, 0, samples, chance),
            _ => Self::scan(kind, samples, chance),
        }
    }

    fn scan(kind: Kind, samples: &Samples, chance: &mut Chance) -> Self {
        let mut how = Vec::new();
        // With colours on points, the ring shows only on a fine mesh.
        let fine = matches!(kind, Kind::TextPly | Kind::BinaryPly) && chance.happens(0.3);
        let mut shape = if fine { samples.fine.clone() } else { samples.coarse.clone() };
        let in_bytes = chance.happens(0.4);
        for _ in 0..if in_bytes { chance.below(2) } else { 1 + chance.below(3) } {
            how.push(bend(&mut shape, chance));
        }
        let mut files = match kind {
            Kind::BinaryStl => files::stl_binary(&shape),
            Kind::TextStl => files::stl_text(&shape),
            Kind::Obj => files::obj(&shape),
            Kind::TextPly => files::ply(&shape, Order::Text),
            _ => files::ply(&shape, if chance.happens(0.5) { Order::Little } else { Order::Big }),
        };
        if in_bytes {
            // Mostly the scan itself, else its material file or picture.
            let which = if chance.happens(0.8) { 0 } else { chance.below(files.len()) };
            for _ in 0..1 + chance.below(3) {
                how.push(spoil(&mut files[which].1, &samples.any, chance));
            }
        }
        Self { kind, files, how }
    }

    fn json(kind: Kind, n: usize, samples: &Samples, chance: &mut Chance) -> Self {
        let (mut value, others) = match kind {
            Kind::Design => (samples.designs[n].clone(), samples.designs.clone()),
            Kind::Strokes => (samples.strokes.clone(), vec![samples.outline.clone()]),
            Kind::Outline => (samples.outline.clone(), vec![samples.strokes.clone()]),
            _ => (samples.materials.clone(), vec![samples.designs[0].clone()]),
        };
        let mut how = Vec::new();
        let in_text = chance.happens(0.15);
        for _ in 0..if in_text { 0 } else { 1 + chance.below(3) } {
            how.push(garble(&mut value, &others, chance));
        }
        // Cannot fail: the value came from JSON.
        let mut text = serde_json::to_string_pretty(&value).unwrap_or_default();
        if chance.happens(0.05) {
            text = double_a_field(&text, chance);
            how.push("a field comes twice");
        }
        let mut bytes = text.into_bytes();
        if in_text {
            how.push(spoil(&mut bytes, &samples.any, chance));
        }
        Self { kind, files: vec![(format!("{}.json", kind.word()), bytes)], how }
    }
}
