//! The ground truth of the scans, for tests.

use serde_json::{Value, json};

/// The ground truth of one demo scan.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// The scan file.
    pub file: String,
    /// Body site.
    pub site: String,
    /// Side of the body.
    pub side: String,
    /// Millimetres in one unit of the file.
    pub unit_mm: f64,
    /// Noise along the normals, mm.
    pub noise_mm: f64,
    /// Centre line of the pen line: closed, in the file's own coordinates and unit. Empty where none was drawn.
    pub line: Vec<[f64; 3]>,
    /// Loose bits beside the limb.
    pub loose_bits: usize,
    /// Where bones lift the skin.
    pub bony_points: Vec<BonyTruth>,
}

/// A place where a bone lies right under the skin and lifts it.
#[derive(Debug, Clone, PartialEq)]
pub struct BonyTruth {
    /// What it is.
    pub name: &'static str,
    /// Its middle on the skin, in the file's own coordinates and unit.
    pub at: [f64; 3],
    /// Where the swell has faded to nothing, mm; the radius of the joint where it has no swell.
    pub radius_mm: f64,
    /// Height of the swell, mm.
    pub height_mm: f64,
}

/// The truth of all scans as one JSON text, lengths in the scan's own unit unless the name says otherwise.
#[must_use]
pub fn truth_json(all: &[Truth]) -> String {
    let rows: Vec<Value> = all
        .iter()
        .map(|t| {
            // Six decimals are a micrometre even in a file in metres.
            let digits = |x: f64| (x * 1e6).round() / 1e6;
            let bony = |b: &BonyTruth| {
                json!({
                    "name": b.name, "at": b.at.map(digits), "radius_mm": b.radius_mm, "height_mm": b.height_mm,
                })
            };
            json!({
                "file": t.file, "site": t.site, "side": t.side, "unit_mm": t.unit_mm, "noise_mm": t.noise_mm,
                "loose_bits": t.loose_bits,
                "bony_points": t.bony_points.iter().map(bony).collect::<Vec<_>>(),
                "line": t.line.iter().map(|p| p.map(digits)).collect::<Vec<_>>(),
            })
        })
        .collect();
    let mut text = String::from("[\n");
    for (k, row) in rows.iter().enumerate() {
        text.push_str(&row.to_string());
        text.push_str(if k + 1 < rows.len() { ",\n" } else { "\n" });
    }
    text.push_str("]\n");
    text
}
