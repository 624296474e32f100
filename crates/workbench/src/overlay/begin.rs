//! The two ways to begin, in the middle of the stage while nothing is open.

use bevy_egui::egui::{Align, Frame, Layout, Rect, RichText, Ui, UiBuilder, vec2};

use crate::actions::Action;
use crate::desk::Desk;
use crate::look::{palette, primary, remark};

/// Width and height of the card.
const SIZE: [f32; 2] = [420.0, 300.0];

/// Offers to open the user's own scan, or the demo.
pub(super) fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    let colours = palette(ui.ctx());
    let field = ui.max_rect();
    let size = vec2(SIZE[0].min(field.width() - 20.0), SIZE[1]);
    let card = Rect::from_center_size(field.center(), size);
    ui.scope_builder(UiBuilder::new().max_rect(card).layout(Layout::top_down(Align::Min)), |ui| {
        Frame::popup(ui.style()).fill(colours.paper).inner_margin(24).show(ui, |ui| {
            ui.heading("What do you want to begin with?");
            ui.add_space(6.0);
            for (text, action, what) in [
                (
                    "My own scan…",
                    Action::Open,
                    "A scan (STL, OBJ or PLY) or a saved design. You can also drop it on this window.",
                ),
                (
                    "Try it on an invented limb",
                    Action::Demo,
                    "A made-up shin with half of its zone painted, to see the whole way in a few minutes.",
                ),
            ] {
                if primary(ui, None, text).on_hover_text(action.keys()).clicked() {
                    desk.asked.0.push(action);
                }
                remark(ui, what);
                ui.add_space(6.0);
            }
            ui.label(RichText::new("Both are always available; F1 lists the keys.").small().color(colours.faint_ink));
        });
    });
}
