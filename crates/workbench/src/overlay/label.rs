//! Short texts beside things on the limb.

use bevy_egui::egui::{Color32, FontId, Pos2, Rect, Stroke, StrokeKind, Ui, Vec2};

use crate::look;

/// A short text on a light ground.
pub(super) fn label(ui: &Ui, at: Pos2, text: &str) {
    let colours = look::palette(ui.ctx());
    let font = FontId::proportional(14.0);
    let galley = ui.painter().layout_no_wrap(text.to_owned(), font, colours.ink);
    let rect = Rect::from_min_size(Pos2::new(at.x, at.y - galley.size().y), galley.size());
    let ground = rect.expand2(Vec2::new(6.0, 3.0));
    ui.painter().rect(ground, 6.0, colours.raised, Stroke::new(1.0, colours.line), StrokeKind::Outside);
    ui.painter().galley(rect.min, galley, Color32::PLACEHOLDER);
}
