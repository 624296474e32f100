//! The scan step: what was found and cleaned.

use bevy_egui::egui::Ui;

use super::Desk;
use crate::actions::Action;

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.heading("Scan");
    if ui.button("Open a scan or design…").clicked() {
        desk.asked.0.push(Action::Open);
    }
    let Some(limb) = desk.bench.session.derived().limb.value() else { return };
    for step in &limb.report.steps {
        ui.label(&step.sentence);
    }
}
