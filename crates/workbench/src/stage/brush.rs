//! The brush: a ring on the skin, dabs while the button is held.

use bevy::prelude::*;

/// The stroke that is being painted.
#[derive(Resource, Default)]
pub struct Stroke {}

/// Paints while the button is held.
pub fn paint(_stroke: ResMut<Stroke>) {}
