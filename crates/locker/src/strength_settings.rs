//! What a guard is worn on and struck with when its strength is told.

use nalgebra::Point3;
use serde::{Deserialize, Serialize};

use crate::parse::Wrong;

/// What is asked about the strength of a guard; what is left out is taken as usual.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StrengthSettings {
    /// A blow by its name among the ready-made ones; the first where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blow: Option<String>,
    /// The foam of the liner by its name; the first where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub foam: Option<String>,
    /// How thick the liner is, 1 to 20 mm; as thick as the gap where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub liner_mm: Option<f32>,
    /// What is under the liner, by its place on the body; the first of the site where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub under: Option<String>,
    /// Where the guard is struck, in limb axes, mm; in its middle where left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_mm: Option<Point3<f32>>,
    /// How it lies on the printer's bed: `upright` or `lying`. Default `upright`.
    #[serde(default)]
    pub lies: Lies,
}

/// How a guard lies on the printer's bed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Lies {
    /// Upright, as in its print files: layers lie across the limb.
    #[default]
    Upright,
    /// On its back or its edges: layers lie along the limb.
    Lying,
}

/// The least and the greatest thickness of a liner, mm.
pub const LINER_MM: [f32; 2] = [1.0, 20.0];
/// Longest name, letters.
const LONGEST_NAME: usize = 80;
/// Places are no further off than this, mm.
const FURTHEST_MM: f32 = 1e5;

impl StrengthSettings {
    /// Whether all is as usual.
    #[must_use]
    pub fn is_usual(&self) -> bool {
        *self == Self::default()
    }

    pub(crate) fn check(&self) -> Result<(), Wrong> {
        for (field, name) in [("blow", &self.blow), ("foam", &self.foam), ("under", &self.under)] {
            let Some(name) = name else { continue };
            if name.chars().count() > LONGEST_NAME || name.chars().any(char::is_control) {
                let allowed = format!("at most {LONGEST_NAME} characters on one line");
                return Err((format!("strength.{field}"), format!("“{}”", plain_json::short(name)), allowed));
            }
        }
        let [least, most] = LINER_MM;
        if let Some(mm) = self.liner_mm.filter(|mm| !(least..=most).contains(mm)) {
            let value = shell::limits::refused(mm, least, most);
            return Err(("strength.liner_mm".into(), value, format!("between {least} and {most} mm")));
        }
        if let Some(at) = self.at_mm.filter(|at| !at.iter().all(|x| x.abs() <= FURTHEST_MM)) {
            let value = format!("{}, {}, {}", at.x, at.y, at.z);
            return Err(("strength.at_mm".into(), value, "a place on the limb, in mm".into()));
        }
        Ok(())
    }
}
