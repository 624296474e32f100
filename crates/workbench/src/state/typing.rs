//! Which keys belong to the panels at the moment.

use bevy::prelude::*;
use bevy_egui::egui;
use bevy_egui::input::EguiWantsInput;

/// Whether somebody types into a field.
#[derive(Resource, Debug, Clone, Copy, Default)]
pub struct Typing(bool);

impl Typing {
    /// Looks at the panels once they are drawn: a field that is typed into says where its text is.
    pub fn look_at(&mut self, ctx: &egui::Context) {
        self.0 = ctx.output(|output| output.ime.is_some());
    }

    /// Whether a key is not for the program's actions: a field takes all, a slider or button that the keyboard stands
    /// on only those by which it is moved and pressed.
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
