//! Which keys belong to the panels at the moment.

use bevy::prelude::*;
use bevy_egui::egui;
use bevy_egui::input::EguiWantsInput;

/// Whether a text field is being typed into.
#[derive(Resource, Debug, Clone, Copy, Default)]
pub struct Typing(bool);

impl Typing {
    /// Looks at the panels once they are drawn: a field that is typed into reports where its text is, for input
    /// methods.
    pub fn look_at(&mut self, ctx: &egui::Context) {
        self.0 = ctx.output(|output| output.ime.is_some());
    }

    /// Whether the panels take a key before the program's actions: a text field takes all keys, a slider or button with
    /// the focus only those that move or press it.
    pub fn takes(self, code: KeyCode, panels: &EguiWantsInput) -> bool {
        let moves = matches!(
            code,
            KeyCode::Enter
                | KeyCode::NumpadEnter
                | KeyCode::Space
                | KeyCode::Tab
                | KeyCode::ArrowLeft
                | KeyCode::ArrowRight
                | KeyCode::ArrowUp
                | KeyCode::ArrowDown
        );
        self.0 || panels.is_popup_open() || (moves && panels.wants_keyboard_input())
    }
}
