//! The print step.

use bevy_egui::egui::Ui;

use super::Desk;

/// Shows the panel.
pub fn show(ui: &mut Ui, _desk: &mut Desk<'_>) {
    ui.heading("Print");
}
