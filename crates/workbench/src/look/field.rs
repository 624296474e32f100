//! Text fields.

use bevy_egui::egui::{CornerRadius, Margin, Response, Stroke, StrokeKind, TextEdit, Ui};

use super::theme::palette;

/// A text field with padding, and a border while it has the focus: egui draws that border in the colour of selected
/// text, which cannot be seen on a field.
pub fn field(ui: &mut Ui, edit: TextEdit<'_>) -> Response {
    let field = ui.add(edit.margin(Margin::symmetric(8, 5)));
    if field.has_focus() {
        let line = Stroke::new(1.5, palette(ui.ctx()).accent);
        ui.painter().rect_stroke(field.rect, CornerRadius::same(7), line, StrokeKind::Inside);
    }
    field
}
