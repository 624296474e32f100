//! The scan step: what was found and cleaned.

use bevy_egui::egui::Ui;

use super::Desk;

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.heading("Scan");
    super::files::start(ui, desk);
    let Some(limb) = desk.bench.session.derived().limb.value() else { return };
    for step in &limb.report.steps {
        ui.label(&step.sentence);
    }
}
