//! In which unit a scan file is.

use nalgebra::Point3;
use serde::{Deserialize, Serialize};

use crate::report::said_length;

/// A length unit that scanners write.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Unit {
    /// Millimetre.
    Mm,
    /// Centimetre.
    Cm,
    /// Metre.
    M,
    /// Inch, 25.4 mm.
    Inch,
}

impl Unit {
    /// All of them, the commonest in scan files first.
    pub const ALL: [Self; 4] = [Self::Mm, Self::M, Self::Cm, Self::Inch];

    /// Millimetres in one.
    #[must_use]
    pub fn mm(self) -> f64 {
        match self {
            Self::Mm => 1.0,
            Self::Cm => 10.0,
            Self::M => 1000.0,
            Self::Inch => 25.4,
        }
    }

    /// Its name in the plural.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Mm => "millimetres",
            Self::Cm => "centimetres",
            Self::M => "metres",
            Self::Inch => "inches",
        }
    }

    /// A place in a file of this unit, to a tenth of a millimetre.
    #[must_use]
    pub fn said_place(self, p: &Point3<f64>) -> String {
        let decimals = match self {
            Self::Mm => 1,
            Self::Cm | Self::Inch => 2,
            Self::M => 4,
        };
        mesh::Place::new(p, decimals).to_string()
    }

    /// How common it is in scan files; only decides where two units give a limb of likely size.
    fn share(self) -> f64 {
        match self {
            Self::Mm => 0.6,
            Self::M => 0.25,
            Self::Cm => 0.1,
            Self::Inch => 0.05,
        }
    }
}

/// Which unit a scan is in, and why.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnitGuess {
    /// The unit.
    pub unit: Unit,
    /// False where another unit would give a limb of likely size too, or none does: ask the user.
    pub sure: bool,
    /// One sentence.
    pub why: String,
}

/// Length of a usual limb scan, mm: wrists about 150, whole shins about 450.
const USUAL_MM: f64 = 270.0;
/// Spread of the natural logarithm of that length.
const SPREAD: f64 = 0.42;
/// A limb scan is at least and at most this long, mm.
const LIKELY_MM: (f64, f64) = (70.0, 1100.0);
/// Logarithm of odds from which a guess counts as sure.
const SURE: f64 = 2.5;

impl UnitGuess {
    /// Guesses from the longest side of the limb's box, in the file's unit.
    #[must_use]
    pub fn from_longest_side(longest: f64) -> Self {
        let score = |unit: Unit| {
            let off = (longest * unit.mm() / USUAL_MM).ln() / SPREAD;
            unit.share().ln() - 0.5 * off * off
        };
        let mut order = Unit::ALL;
        order.sort_by(|a, b| score(*b).total_cmp(&score(*a)));
        let [unit, other, ..] = order;
        let length = longest * unit.mm();
        let likely = (LIKELY_MM.0..=LIKELY_MM.1).contains(&length);
        let margin = score(unit) - score(other);
        let read = format!("in {} its longest side is {}", unit.name(), said_length(length));
        let (sure, why) = if !likely {
            (false, format!("{read}; no unit gives a limb of usual size, so give the unit if you know it"))
        } else if margin < SURE {
            let second = longest * other.mm();
            (false, format!("{read}, but {} ({second:.0} mm) would be possible too; say which it is", other.name()))
        } else {
            (true, format!("{read}, as long as a limb"))
        };
        Self { unit, sure, why }
    }

    /// The unit that the user gave.
    #[must_use]
    pub fn given(unit: Unit) -> Self {
        Self { unit, sure: true, why: format!("you chose {}", unit.name()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn usual_limbs_are_told_in_every_unit() {
        for mm in [150.0, 200.0, 250.0, 300.0, 360.0] {
            for unit in Unit::ALL {
                let guess = UnitGuess::from_longest_side(mm / unit.mm());
                assert_eq!(guess.unit, unit, "{mm} mm in {unit:?}: {}", guess.why);
            }
            assert!(UnitGuess::from_longest_side(mm).sure);
            assert!(UnitGuess::from_longest_side(mm / 1000.0).sure);
        }
    }

    #[test]
    fn what_could_be_either_is_flagged() {
        let guess = UnitGuess::from_longest_side(12.0);
        assert!(!guess.sure && guess.why.contains("possible too"), "{}", guess.why);
        let guess = UnitGuess::from_longest_side(2.7);
        assert!(!guess.sure && guess.why.contains("no unit gives"), "{}", guess.why);
    }
}
