//! What to look at before a guard is printed or worn, although it can be made.

use locker::DesignFile;
use mechanics::Materials;
use print::words::tenths;
use serde::Serialize;

/// Least gap that leaves room for a liner, mm: the thinnest foam sold for the purpose is about 1 mm.
const LEAST_LINER_MM: f32 = 1.0;

/// Something to look at.
#[derive(Debug, Clone, PartialEq, Serialize, thiserror::Error)]
#[serde(rename_all = "kebab-case", tag = "kind")]
#[non_exhaustive]
pub enum Warning {
    /// The design names a filament that is not among the materials.
    #[error(
        "The filament “{name}” of this design is unknown, so it is not in the table; the known ones are {}.", known.join(", ")
    )]
    UnknownFilament {
        /// What the design names.
        name: String,
        /// The filaments that are known.
        known: Vec<String>,
    },
    /// There is no room for a liner between skin and shell.
    #[error(
        "A gap of {} mm leaves no room for a foam liner. Never wear the guard on bare skin: set the gap to the thickness \
         of the liner and a little ease.", tenths(*gap_mm)
    )]
    NoLiner {
        /// The gap, mm.
        gap_mm: f32,
    },
    /// A squad number that hardly any club gives out.
    #[error(
        "The squad number {number} is unusual: most are 0 to {}. Check it before it is printed on the guard.",
        locker::USUAL_SQUAD_NUMBER
    )]
    UnusualNumber {
        /// The number.
        number: u32,
    },
}

/// What to look at in a design that is to be made of one of these materials.
#[must_use]
pub fn warnings(design: &DesignFile, materials: &Materials) -> Vec<Warning> {
    let mut found = Vec::new();
    if let Some(name) = &design.filament
        && !materials.materials.iter().any(|m| m.family == design.material && m.name == *name)
    {
        let known = materials.materials.iter().map(|m| format!("{} ({})", m.name, m.family.word())).collect();
        found.push(Warning::UnknownFilament { name: name.clone(), known });
    }
    found.extend(design_warnings(design));
    found
}

/// What to look at in a design, whatever it is made of.
pub(crate) fn design_warnings(design: &DesignFile) -> Vec<Warning> {
    let mut found = Vec::new();
    let gap_mm = design.shell.gap_mm;
    if gap_mm < LEAST_LINER_MM {
        found.push(Warning::NoLiner { gap_mm });
    }
    if let Some(number) = design.squad_number.filter(|n| *n > locker::USUAL_SQUAD_NUMBER) {
        found.push(Warning::UnusualNumber { number });
    }
    found
}

/// Warnings in a report: typed, each with its sentence.
pub(crate) mod with_sentence {
    use serde::ser::SerializeSeq;
    use serde::{Serialize, Serializer};

    use super::Warning;

    #[derive(Serialize)]
    struct Told<'a> {
        #[serde(flatten)]
        warning: &'a Warning,
        sentence: String,
    }

    pub(crate) fn serialize<S: Serializer>(warnings: &[Warning], serializer: S) -> Result<S::Ok, S::Error> {
        let mut list = serializer.serialize_seq(Some(warnings.len()))?;
        for warning in warnings {
            list.serialize_element(&Told { warning, sentence: warning.to_string() })?;
        }
        list.end()
    }
}
