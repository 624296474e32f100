//! What things on the stage are made of.

use bevy::ecs::system::SystemParam;
use bevy::prelude::*;

/// Meshes, materials and pictures.
#[derive(SystemParam)]
pub struct StageAssets<'w> {
    /// Shapes.
    pub meshes: ResMut<'w, Assets<Mesh>>,
    /// What they are made of.
    pub materials: ResMut<'w, Assets<StandardMaterial>>,
    /// Pictures on them.
    pub images: ResMut<'w, Assets<Image>>,
}
