//! The shell step: wall, rim, ribs, vents, fittings, number.

use bevy_egui::egui::{Slider, Ui};

use super::Desk;

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.heading("Shell");
    let Some(design) = desk.bench.session.design() else { return };
    let mut thickness_mm = design.shell.thickness_mm;
    let slider = ui.add(Slider::new(&mut thickness_mm, 0.8..=10.0).text("wall, mm"));
    if slider.changed() {
        desk.bench.session.edit_live("wall thickness", |design| design.shell.thickness_mm = thickness_mm);
    }
    if slider.drag_stopped() {
        desk.bench.session.settle();
    }
}
