//! Where the stage is in the window, and how far is looked into it.

use bevy::prelude::*;

/// Farther than any limb is looked at from, mm: the length of a line of sight.
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
