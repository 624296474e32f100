//! The zone step: brush and pen line.

use bevy_egui::egui::{Slider, Ui};

use super::Desk;
use crate::view::Tool;

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.heading("Zone");
    ui.horizontal(|ui| {
        for (tool, name) in [(Tool::Look, "Turn"), (Tool::Paint, "Paint"), (Tool::Erase, "Erase")] {
            if ui.selectable_label(desk.view.tool == tool, name).clicked() {
                desk.view.tool = tool;
            }
        }
    });
    ui.add(Slider::new(&mut desk.view.brush_mm, 2.0..=80.0).logarithmic(true).text("brush, mm"));
    let derived = desk.bench.session.derived();
    if let (Some(limb), Some(zone)) = (derived.limb.value(), derived.zone.value()) {
        ui.label(format!("{:.0} cm² covered", zone.area_cm2(&limb.skin)));
    }
}
