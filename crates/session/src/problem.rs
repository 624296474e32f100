//! What is wrong, where, and at which setting.

use std::path::PathBuf;

use engine::{EngineError, Fault};
use nalgebra::Point3;
use shell::ShellError;
use zone::ZoneError;

/// A sentence for the user, with the setting and the place that it is about, if any.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// What is wrong and what to do, with path and place in words.
    pub sentence: String,
    /// Path of the setting in the design, such as `shell.vents.size_mm`.
    pub setting: Option<String>,
    /// Place on the limb, mm.
    pub place: Option<Point3<f32>>,
    /// It was only stopped on request.
    pub stopped: bool,
    /// Its kind.
    pub kind: Box<ProblemKind>,
}

/// The kind of a problem, for callers that word it themselves.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum ProblemKind {
    /// The sentence says all.
    Sentence,
    /// The shell cannot be built.
    CannotBuild {
        /// What is wrong, as a clause without path and place.
        what: String,
        /// What to do, as a sentence.
        cure: String,
    },
    /// There is no pen line on the scan.
    NoPenLine,
    /// The pen line does not close.
    PenLineOpen {
        /// Length that would close it, mm; none where there is no way.
        added_mm: Option<f32>,
    },
    /// The folder for the files has those of another guard; nothing was written.
    FolderTaken {
        /// The folder.
        folder: PathBuf,
        /// Title of the other guard.
        title: String,
    },
}

impl Problem {
    /// A fault of the program itself.
    #[must_use]
    pub fn broken(what: &str) -> Self {
        Self::plain(format!(
            "{what} stopped because of an error in the program; undo the last change or save and start again"
        ))
    }

    /// A problem with a sentence and nothing else.
    #[must_use]
    pub fn plain(sentence: impl Into<String>) -> Self {
        Self {
            sentence: sentence.into(),
            setting: None,
            place: None,
            stopped: false,
            kind: Box::new(ProblemKind::Sentence),
        }
    }

    /// The sentence without setting and place, for where those are shown otherwise.
    #[must_use]
    pub fn without_place(&self) -> String {
        let ProblemKind::CannotBuild { what, cure } = &*self.kind else { return capitalised(&self.sentence) };
        format!("{}. {cure}", capitalised(what))
    }
}

/// A sentence with a capital at its start, unless it starts with a path or another name that is no word.
#[must_use]
pub fn capitalised(sentence: &str) -> String {
    let is_word = sentence.split_whitespace().next().is_some_and(|first| {
        first
            .trim_end_matches([',', ':', ';', '.'])
            .chars()
            .all(|letter| letter.is_alphabetic() || "-'’".contains(letter))
    });
    let mut letters = sentence.chars();
    if is_word {
        letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect()
    } else {
        sentence.to_owned()
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
        let sentence = error.to_string();
        let kind = match error {
            EngineError::Shell(ShellError::CannotBuild { what, cure, .. }) => ProblemKind::CannotBuild { what, cure },
            EngineError::NoPenLine { .. } => ProblemKind::NoPenLine,
            EngineError::PenLineOpen { proposal, added_mm, .. } => {
                ProblemKind::PenLineOpen { added_mm: (!proposal.is_empty()).then_some(added_mm) }
            }
            EngineError::FolderTaken { folder, title } => ProblemKind::FolderTaken { folder, title },
            _ => ProblemKind::Sentence,
        };
        Self { sentence, setting, place, stopped, kind: Box::new(kind) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_problem_is_told_with_and_without_path_and_place() {
        let error = ShellError::CannotBuild {
            setting: "shell.fittings[0].at_mm".into(),
            place: Point3::new(1.0, 2.0, 3.0),
            what: "the slot overlaps a vent".into(),
            cure: "Move it.".into(),
        };
        let problem = Problem::from(EngineError::from(error));
        assert!(problem.sentence.contains("fittings[0]") && problem.sentence.contains("near x 1"), "{problem:?}");
        assert_eq!(problem.without_place(), "The slot overlaps a vent. Move it.");
        assert_eq!(Problem::plain("The disk is full.").without_place(), "The disk is full.");
        assert_eq!(Problem::broken("cleaning").without_place().find("Cleaning stopped"), Some(0));
        assert_eq!(capitalised("guard.json cannot be read"), "guard.json cannot be read");
    }
}
