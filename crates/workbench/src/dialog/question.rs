//! The question before unsaved work is lost.

use bevy_egui::egui;

use super::dialog_frame;
use crate::commands::files::{go_on, save};
use crate::state::files::Next;
use crate::state::{Bench, View};

#[derive(Clone, Copy)]
enum Answer {
    Save,
    Drop,
    Back,
}

/// Asks, where something waits for the answer.
pub fn show(ctx: &egui::Context, bench: &mut Bench, view: &mut View) {
    let Some(next) = bench.files.question.clone() else { return };
    let mut answer = None;
    let unseen = std::mem::take(&mut bench.files.unseen);
    egui::Modal::new("unsaved".into()).frame(dialog_frame(ctx)).show(ctx, |ui| {
        ui.set_width(430.0);
        ui.heading("This design is not saved");
        let before = match &next {
            Next::Close => "before the window closes",
            Next::Demo => "before the demo opens",
            Next::Open(_) | Next::Restore(_) => "before another one opens",
        };
        let title = bench.session.design().map(|d| d.title.clone()).unwrap_or_default();
        ui.label(format!("Save “{title}” {before}?"));
        ui.horizontal(|ui| {
            for (text, meaning, key) in [
                ("Save (Enter)", Answer::Save, egui::Key::Enter),
                ("Don’t save (D)", Answer::Drop, egui::Key::D),
                ("Back (Esc)", Answer::Back, egui::Key::Escape),
            ] {
                let button = ui.button(text);
                // A later button that the keyboard stands on takes Enter from the first.
                if button.clicked() || (!unseen && ui.input(|i| i.key_pressed(key))) {
                    answer = Some(meaning);
                }
            }
        });
    });
    if answer.is_some() {
        bench.files.question = None;
    }
    match answer {
        Some(Answer::Save) => {
            bench.files.after_save = Some(next);
            save(bench);
        }
        Some(Answer::Drop) => go_on(bench, view, next),
        Some(Answer::Back) | None => {}
    }
}
