//! The workbench: the whole job in one window.

use bevy::prelude::*;

fn main() {
    App::new().add_plugins(DefaultPlugins).add_plugins(bevy_egui::EguiPlugin::default()).run();
}
