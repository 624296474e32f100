//! The design file, field by field.

use mechanics::Family;
use scan::{BodySite, CleanSettings, Placement, Side};
use serde::{Deserialize, Serialize};
use zone::ZoneSettings;

use crate::{Appearance, StrengthSettings};

/// The newest version of the design file that can be read, and the one that is written.
pub const VERSION: u64 = 2;

/// Largest squad number that a design may have.
pub const MOST_SQUAD_NUMBER: u32 = 9999;
/// Squad numbers up to this one are usual; larger ones are more often typing errors.
pub const USUAL_SQUAD_NUMBER: u32 = 99;

/// Everything about one guard: who for (by number), on which scan, what is covered, and how the shell is made.
///
/// A JSON object. Fields that are not known are refused; fields with a default may be left out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DesignFile {
    /// Version of the file: 2; older ones are brought up to it when they are read.
    pub pauldron_design: u64,
    /// What the guard is, in a few words; at most 80 characters on one line. Never a person's name.
    #[serde(default)]
    pub title: String,
    /// Where on the body: `forearm`, `wrist`, `shoulder`, `ribs`, `thigh`, `shin`, `ankle` or `other`.
    pub site: BodySite,
    /// Side of the body that the guard is for: `left`, `right` or `unknown`. With `clean.mirror` the scan shows the
    /// other.
    pub side: Side,
    /// The athlete's squad number, 0 to 9999.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub squad_number: Option<u32>,
    /// The scan, by its content.
    pub scan: KeptScan,
    /// How the limb lies in the scan file. All points of the design are in these limb axes, in mm.
    pub placement: Placement,
    /// How the scan is cleaned.
    #[serde(default)]
    pub clean: CleanSettings,
    /// What is covered, and special spots.
    #[serde(default)]
    pub zone: ZoneSettings,
    /// The shell.
    #[serde(default)]
    pub shell: shell::Design,
    /// Grid cell of the shell's mesh, 0.2 to 3 mm. Default 0.5.
    #[serde(default = "default_resolution_mm")]
    pub resolution_mm: f32,
    /// How far simplifying may move the surface, 0 to 0.5 mm. Default 0.02.
    #[serde(default = "default_tolerance_mm")]
    pub tolerance_mm: f32,
    /// What it is to be printed in: `rigid`, `semi-rigid` or `flexible`. Default `semi-rigid`.
    #[serde(default = "default_material")]
    pub material: Family,
    /// Which filament of that family, by its name among the materials; the first of the family where left out. One that
    /// is not known is taken as left out, with a warning when the guard is made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub filament: Option<String>,
    /// What it is worn on and struck with when its strength is told; as usual where left out.
    #[serde(default, skip_serializing_if = "StrengthSettings::is_usual")]
    pub strength: StrengthSettings,
    /// How it looks when it is shown; left out while nobody has chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub look: Option<Appearance>,
}

fn default_resolution_mm() -> f32 {
    0.5
}

fn default_tolerance_mm() -> f32 {
    0.02
}

fn default_material() -> Family {
    Family::SemiRigid
}

/// A scan and the files that it needs, such as the picture of an OBJ.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeptScan {
    /// The scan file.
    pub file: KeptFile,
    /// Files that the scan names: material and picture.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub companions: Vec<Companion>,
}

/// A file that a scan names.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Companion {
    /// The name that the scan uses for it.
    pub name: String,
    /// The file.
    pub file: KeptFile,
}

/// A file by its content.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeptFile {
    /// SHA-256 of its bytes, 64 lower-case hexadecimal digits.
    pub sha256: String,
    /// Its length in bytes.
    pub bytes: u64,
    /// Its bytes in base64, where it is kept inside the design file. Otherwise it lies beside it, in the same folder or
    /// in the folder `scans`, as `<sha256>.scan` or under any other name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inside: Option<String>,
}
