//! Fields that are typed into.

use bevy_egui::egui::{CornerRadius, Margin, Response, Stroke, StrokeKind, TextEdit, Ui};

use super::theme::palette;

/// A field that is typed into, with air round its text, and a line round it while it has the keyboard: egui draws that
/// line in the colour of text on what is chosen, which is not to be seen on a field.
pub fn field(ui: &mut Ui, edit: TextEdit<'_>) -> Response {
    let field = ui.add(edit.margin(Margin::symmetric(8, 5)));
    if field.has_focus() {
        let line = Stroke::new(1.5, palette(ui.ctx()).accent);
        ui.painter().rect_stroke(field.rect, CornerRadius::same(7), line, StrokeKind::Inside);
    }
    field
}
