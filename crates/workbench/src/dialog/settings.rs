//! The small window with the program's own settings.

use bevy_egui::egui::{self, Align2, TextEdit, vec2};
use session::Session;

use crate::look::{Setting, field, remark, section, switch};

/// Shows the settings; whether they stay open.
pub fn show(ctx: &egui::Context, session: &mut Session) -> bool {
    let preferences = &mut session.preferences;
    let (mut open, mut keep) = (true, false);
    egui::Window::new("Settings")
        .open(&mut open)
        .collapsible(false)
        .resizable(false)
        .anchor(Align2::CENTER_CENTER, vec2(0.0, 0.0))
        .default_width(340.0)
        .show(ctx, |ui| {
            section(ui, "Text and contrast");
            // Text is scaled when the slider is let go, so that the slider does not move away under the hand.
            let held = ui.id().with("text size");
            let mut scale = ui.data(|data| data.get_temp(held)).unwrap_or(preferences.text_scale);
            let moved = Setting::new("Size of text", "×", 0.8..=2.0).show(ui, &mut scale);
            ui.data_mut(|data| data.insert_temp(held, scale));
            if moved.let_go || (moved.changed && !ui.input(|i| i.pointer.any_down())) {
                preferences.text_scale = scale;
                keep = true;
            }
            keep |= switch(ui, &mut preferences.high_contrast, "Strong contrast").changed();
            section(ui, "On the summary page");
            ui.label("Club");
            let club = field(ui, TextEdit::singleline(&mut preferences.team).desired_width(f32::INFINITY));
            keep |= club.lost_focus();
            remark(ui, "Kept on this computer for the next time.");
        });
    if keep {
        session.keep_preferences();
    }
    open
}
