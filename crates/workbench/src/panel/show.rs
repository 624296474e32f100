//! The show step.

use std::path::Path;

use bevy_egui::egui::Ui;

use super::Desk;
use crate::bench::Bench;

/// Shows the panel.
pub fn show(ui: &mut Ui, _desk: &mut Desk<'_>) {
    ui.heading("Show");
}

/// Takes a picture for the guard.
pub fn take_picture(_bench: &mut Bench, _path: &Path) {}
