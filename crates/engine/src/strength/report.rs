//! What strength comes to, for people and programs.

use locker::Lies;
use mechanics::answer::Answer;
use mechanics::ready::Without;
use mechanics::surroundings::{Foam, SourcedBlow, SourcedTissue};
use mechanics::{Family, Material, Price};
use serde::Serialize;

use crate::Warning;

/// What a blow does to a guard.
#[derive(Debug, Clone, Serialize)]
pub struct StrengthReport {
    /// Title of the design.
    pub title: String,
    /// What the figures are.
    pub means: &'static str,
    /// The blow.
    pub blow: SourcedBlow,
    /// Its energy, J.
    pub energy_j: f64,
    /// Where it strikes, mm.
    pub at_mm: [f64; 3],
    /// The foam of the liner.
    pub foam: Foam,
    /// How thick it is, mm.
    pub liner_mm: f64,
    /// What is under it.
    pub under: SourcedTissue,
    /// How the guard lies on the bed.
    pub lies: Lies,
    /// The blow without a guard.
    pub without: Without,
    /// One row a filament, in the order of the materials.
    pub rows: Vec<StrengthRow>,
    /// What the computation leaves out.
    pub notices: Vec<String>,
    /// What to look at before it is printed or worn.
    #[serde(serialize_with = "crate::warning::with_sentence::serialize")]
    pub warnings: Vec<Warning>,
    /// The caution that belongs to each of these figures.
    pub caution: &'static str,
}

/// A guard in one filament.
#[derive(Debug, Clone, Serialize)]
pub struct StrengthRow {
    /// What it comes to.
    #[serde(flatten)]
    pub answer: Answer,
    /// Weight of the shell printed solid, g: of what is computed on, which is some per cent more than the print.
    pub grams: f64,
    /// What that much filament costs.
    pub price: Price,
    /// Temperature from which it loses its shape, °C.
    pub softening_c: f64,
}

/// What the figures are; shown wherever they are.
pub const WHAT_STRENGTH_MEANS: &str = "computed on the guard's own wall with its vents, ribs and slots, on a simple model of \
     foam and limb: it compares designs and filaments";
/// The caution beside them.
pub const STRENGTH_CAUTION: &str = "Not a certified protector: these are comparisons, no guarantee against injury and no test \
     after any standard. Prints differ; deep dents are told only roughly. Medical staff and officials decide.";

impl StrengthReport {
    /// The row of the filament of that name in a family, or of the family's first where none has that name.
    #[must_use]
    pub fn row(&self, family: Family, filament: Option<&str>) -> Option<&StrengthRow> {
        self.rows.get(self.place(family, filament)?)
    }

    /// Which row that is.
    #[must_use]
    pub fn place(&self, family: Family, filament: Option<&str>) -> Option<usize> {
        let is = |row: &StrengthRow| row.answer.family == family;
        let named = self.rows.iter().position(|row| is(row) && Some(row.answer.name.as_str()) == filament);
        named.or_else(|| self.rows.iter().position(is))
    }
}

impl StrengthRow {
    pub(super) fn new(answer: Answer, material: &Material, volume_mm3: f64) -> Self {
        let grams = volume_mm3 / 1000.0 * material.density_g_per_cm3.value;
        let price = &material.price_per_kg;
        Self {
            answer,
            grams,
            price: Price { low: price.low * grams / 1000.0, high: price.high * grams / 1000.0, ..price.clone() },
            softening_c: material.softening_c.value,
        }
    }
}
