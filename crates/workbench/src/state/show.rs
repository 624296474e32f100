//! The show step: how the guard is shown to the athlete.

use locker::KeptFile;

/// How the guard is shown; nothing of it is saved with the design.
#[derive(Debug, Clone, Default)]
pub struct ShowView {
    /// Without the limb.
    pub alone: bool,
    /// Turns slowly.
    pub turning: bool,
    /// The panels are put away.
    pub clean: bool,
    /// The side that is looked at, as a turn about the limb's z axis from x, degrees.
    pub front_deg: f32,
    /// Elevation from which it is looked at, degrees.
    pub raise_deg: f32,
    /// The picture that was checked last, and whether it is damaged.
    checked: Option<(KeptFile, bool)>,
}

impl ShowView {
    /// Whether a picture in the design is damaged; each is checked once.
    pub fn is_damaged(&mut self, picture: &KeptFile) -> bool {
        match &self.checked {
            Some((of, damaged)) if of == picture => *damaged,
            _ => {
                let damaged = locker::load_picture(picture).is_err();
                self.checked = Some((picture.clone(), damaged));
                damaged
            }
        }
    }
}
