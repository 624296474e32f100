//! Where the stage is in the window, and how far a line of sight reaches.

use bevy::prelude::*;

/// Length of a line of sight, mm: more than the camera's greatest distance from any limb.
pub const SIGHT_MM: f32 = 20_000.0;

/// Where the stage is, in the window's own units.
#[derive(Resource, Debug, Clone, Copy, Default)]
pub struct StageRect(pub Rect);

impl StageRect {
    /// How many times as wide as high it is; a usual value before the window is laid out.
    #[must_use]
    pub fn aspect(&self) -> f32 {
        if self.0.is_empty() { 1.35 } else { self.0.width() / self.0.height() }
    }
}
