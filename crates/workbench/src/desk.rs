//! What panels, overlays and dialogs are given.

use crate::actions::Asked;
use crate::state::{Bench, View};

/// All that a panel may look at and change.
pub struct Desk<'a> {
    /// The document.
    pub bench: &'a mut Bench,
    /// How it is seen.
    pub view: &'a mut View,
    /// What is asked to be done.
    pub asked: &'a mut Asked,
}
