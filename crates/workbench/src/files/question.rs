//! What stands in front of the window: the question before work is lost, and the chooser.

use bevy_egui::egui;

use super::Next;
use crate::bench::Bench;

#[derive(Clone, Copy)]
enum Answer {
    Save,
    Drop,
    Back,
}

/// Draws them.
pub fn windows(ctx: &egui::Context, bench: &mut Bench) {
    if let Some(chooser) = &mut bench.files.chooser {
        chooser.show(ctx);
        return;
    }
    let Some(next) = bench.files.question.clone() else { return };
    let mut answer = None;
    let unseen = std::mem::take(&mut bench.files.unseen);
    egui::Modal::new("unsaved".into()).frame(frame(ctx)).show(ctx, |ui| {
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
            bench.save();
        }
        Some(Answer::Drop) => bench.go_on(next),
        Some(Answer::Back) | None => {}
    }
}

/// Paper with a wide margin.
pub(super) fn frame(ctx: &egui::Context) -> egui::Frame {
    egui::Frame::popup(&ctx.global_style()).inner_margin(egui::Margin::same(20))
}
