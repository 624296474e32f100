//! Why the strength of a guard cannot be told.

use locker::LINER_MM;
use mechanics::mid_surface::MidSurfaceError;
use mechanics::ready::AnswerError;

/// Why strength cannot be told.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StrengthError {
    /// The guard cannot be computed on.
    #[error("The strength of this guard cannot be told: {0}.")]
    MidSurface(#[from] MidSurfaceError),
    /// The answer cannot be found.
    #[error("The strength of this guard cannot be told: {0}.")]
    Answer(#[from] AnswerError),
    /// A name that is not known.
    #[error("There is no {what} called “{name}”. There are: {known}.")]
    Unknown {
        /// What was asked for.
        what: &'static str,
        /// By which name.
        name: String,
        /// The names that there are.
        known: String,
    },
    /// The lightest guard is asked for, and nothing that it has to hold to.
    #[error("Say what the guard has to hold to: without a target the lightest one is the thinnest.")]
    NoTargets,
    /// A thickness that no liner has.
    #[error("A liner of {0} mm is not possible: it must be between {min} and {max} mm.", min = LINER_MM[0], max = LINER_MM[1])]
    Liner(f32),
}

impl StrengthError {
    /// Whether it is that it was stopped.
    #[must_use]
    pub fn is_stopped(&self) -> bool {
        use mechanics::blow::BlowError::Contact;
        use mechanics::contact::ContactError::Cancelled;
        matches!(
            self,
            Self::MidSurface(MidSurfaceError::Cancelled(_)) | Self::Answer(AnswerError::Blow(Contact(Cancelled(_))))
        )
    }
}
