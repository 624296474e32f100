//! The stage: the limb and the guard in three dimensions, in millimetres, z up along the limb.

mod bed;
mod brush;
mod camera;
mod limb;
mod patches;
mod raw;
mod shell;

use bevy::prelude::*;

pub use bed::BedView;
pub use camera::StageCamera;

/// All that stands on the stage.
pub struct StagePlugin;

impl Plugin for StagePlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<limb::LimbOnStage>()
            .init_resource::<brush::Stroke>()
            .add_systems(Startup, camera::light)
            .add_systems(Update, bed::lay)
            .add_systems(
                Update,
                (raw::stand, limb::stand, limb::colour, shell::stand, brush::paint, camera::turn).chain(),
            );
    }
}
