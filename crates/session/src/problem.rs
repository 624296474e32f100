//! What stands in the way, where, and at which setting.

use engine::{EngineError, Fault};
use nalgebra::Point3;
use shell::ShellError;
use zone::ZoneError;

/// A sentence for the user, with the setting and the place it is about where there is one.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// What is wrong and what to do.
    pub sentence: String,
    /// Path of the setting in the design, such as `shell.vents.size_mm`.
    pub setting: Option<String>,
    /// Place on the limb, mm.
    pub place: Option<Point3<f32>>,
    /// It was only stopped on request.
    pub stopped: bool,
}

impl Problem {
    /// A fault of the program itself.
    #[must_use]
    pub fn broken(what: &str) -> Self {
        Self {
            sentence: format!(
                "{what} broke off through a fault of the program; undo the last change or save and start again"
            ),
            setting: None,
            place: None,
            stopped: false,
        }
    }

    /// Only a sentence.
    #[must_use]
    pub fn plain(sentence: impl Into<String>) -> Self {
        Self { sentence: sentence.into(), setting: None, place: None, stopped: false }
    }
}

impl From<EngineError> for Problem {
    fn from(error: EngineError) -> Self {
        let stopped = error.fault() == Fault::Cancelled;
        let (setting, place) = match &error {
            EngineError::Shell(ShellError::CannotBuild { setting, place, .. }) => (Some(setting.clone()), Some(*place)),
            EngineError::Zone(ZoneError::OutOfRange { field, .. } | ZoneError::TooFewPoints { field, .. }) => {
                (Some(format!("zone.{field}")), None)
            }
            EngineError::Zone(ZoneError::TooThin { at, .. }) => (Some("zone".to_owned()), Some(*at)),
            EngineError::Zone(_) => (Some("zone".to_owned()), None),
            _ => (None, None),
        };
        Self { sentence: error.to_string(), setting, place, stopped }
    }
}
