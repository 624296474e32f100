//! What cleaning did, step by step.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::{LimbSize, ScanWarning, UnitGuess};

/// One step of cleaning: what it did, or why it did nothing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Step {
    /// Short name of the step, always the same: `weld`, `holes`, …
    pub name: &'static str,
    /// Whether the surface was changed by it.
    pub changed: bool,
    /// Numbers by name.
    pub counts: BTreeMap<&'static str, usize>,
    /// One plain sentence.
    pub sentence: String,
}

impl Step {
    pub(crate) fn new(name: &'static str, changed: bool, counts: &[(&'static str, usize)], sentence: String) -> Self {
        Self { name, changed, counts: counts.iter().copied().collect(), sentence }
    }
}

/// A hole that was filled.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FilledHole {
    /// Length of its rim, mm.
    pub rim_mm: f64,
    /// Middle of its rim, in the scan file's coordinates and unit.
    pub middle_scan: [f64; 3],
}

/// Everything that cleaning did, in order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CleaningReport {
    /// The unit and why.
    pub unit: UnitGuess,
    /// The steps in the order in which they were done.
    pub steps: Vec<Step>,
    /// The holes that were filled.
    pub holes: Vec<FilledHole>,
    /// Scanner noise that was found, mm (standard deviation along the normal).
    pub noise_mm: f64,
    /// The size of the cleaned limb; see [`LimbSize::doubt`].
    pub size: LimbSize,
    /// What the user should look at.
    pub warnings: Vec<ScanWarning>,
}

/// `1 hole`, `2 holes`.
pub(crate) fn count(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

/// A length as a person would say it.
pub(crate) fn said_length(mm: f64) -> String {
    if mm < 1.0 {
        "less than 1 mm".into()
    } else if mm < 1e4 {
        format!("{mm:.0} mm")
    } else if mm < 1e6 {
        format!("{:.1} m", mm / 1e3)
    } else if mm < 1e12 {
        format!("{:.1} km", mm / 1e6)
    } else {
        "more than a million kilometres".into()
    }
}
