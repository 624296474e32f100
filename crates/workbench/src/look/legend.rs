//! The legend of measured values.

use bevy_egui::egui::{Align2, CornerRadius, Rect, Sense, Stroke, StrokeKind, TextStyle, Ui, pos2, vec2};

use super::{heat, palette};

/// The colours of measured values, from nothing to the end of the scale and beyond, with their figures.
pub fn legend(ui: &mut Ui, scale: f32, unit: &str) {
    let colours = palette(ui.ctx());
    let font = TextStyle::Small.resolve(ui.style());
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 44.0), Sense::hover());
    let bar = Rect::from_min_max(rect.min + vec2(8.0, 2.0), pos2(rect.right() - 8.0, rect.top() + 18.0));
    let steps = 64;
    for i in 0..steps {
        let at = |i: usize| bar.left() + bar.width() * i as f32 / steps as f32;
        let part = Rect::from_min_max(pos2(at(i), bar.top()), pos2(at(i + 1) + 0.5, bar.bottom()));
        ui.painter().rect_filled(part, CornerRadius::ZERO, heat::colour((i as f32 + 0.5) / steps as f32));
    }
    ui.painter().rect_stroke(bar, CornerRadius::ZERO, Stroke::new(1.0, colours.line), StrokeKind::Outside);
    let end = format!(" {unit} +");
    for i in 0..=4 {
        let share = i as f32 / 4.0;
        let x = bar.left() + share * bar.width();
        ui.painter().vline(x, bar.bottom()..=bar.bottom() + 4.0, Stroke::new(1.0, colours.ink));
        let (anchor, after) = match i {
            0 => (Align2::LEFT_TOP, ""),
            4 => (Align2::RIGHT_TOP, end.as_str()),
            _ => (Align2::CENTER_TOP, ""),
        };
        let x = if i == 0 {
            rect.left() + 4.0
        } else if i == 4 {
            rect.right()
        } else {
            x
        };
        let value = share * scale;
        let text = if value.fract().abs() < 0.05 { format!("{value:.0}{after}") } else { format!("{value:.1}{after}") };
        ui.painter().text(pos2(x, bar.bottom() + 5.0), anchor, text, font.clone(), colours.ink);
    }
}
