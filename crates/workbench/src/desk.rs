//! What panels, overlays and dialogs are given.

use crate::actions::Asked;
use crate::state::{Bench, View};

/// Everything a panel may read and change.
pub struct Desk<'a> {
    /// The document.
    pub bench: &'a mut Bench,
    /// What the window shows.
    pub view: &'a mut View,
    /// The actions asked for.
    pub asked: &'a mut Asked,
}
