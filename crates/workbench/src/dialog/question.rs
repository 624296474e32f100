//! The questions before something is lost: unsaved work, or the files of another guard.

use std::path::PathBuf;

use bevy_egui::egui::{self, Key};

use super::dialog_frame;
use crate::commands::files::{choose, export_over, go_on, save};
use crate::look::{primary, secondary};
use crate::state::files::{FileRequest, Next, Question};
use crate::state::{Bench, View};

/// What may be answered, and what then happens.
#[derive(Clone)]
enum Answer {
    /// Saves first.
    Save(Next),
    /// Goes on without saving.
    Drop(Next),
    /// Asks for another folder.
    OtherFolder,
    /// Writes beside and over what is there.
    WriteOver(PathBuf),
    /// Changes nothing.
    Back,
}

/// A question in words.
struct Words {
    heading: &'static str,
    text: String,
    /// Each with its key; the first is what most would want.
    answers: [(&'static str, Answer, Key); 3],
}

/// Asks, where something waits for the answer.
pub fn show(ctx: &egui::Context, bench: &mut Bench, view: &mut View) {
    let Some(question) = bench.files.question.clone() else { return };
    let words = match question {
        Question::Unsaved(next) => unsaved(bench, next),
        Question::FolderTaken { folder, title } => folder_taken(bench, folder, &title),
    };
    let mut answer = None;
    let unseen = std::mem::take(&mut bench.files.unseen);
    egui::Modal::new("question".into()).frame(dialog_frame(ctx)).show(ctx, |ui| {
        ui.set_width(520.0);
        ui.heading(words.heading);
        ui.label(&words.text);
        ui.columns(3, |columns| {
            for (i, (ui, (text, meaning, key))) in columns.iter_mut().zip(&words.answers).enumerate() {
                let text = format!("{text} ({})", key_name(*key));
                let button = if i == 0 { primary(ui, None, &text) } else { secondary(ui, &text) };
                // A later button with the keyboard focus takes Enter from the first.
                if button.clicked() || (!unseen && ui.input(|i| i.key_pressed(*key))) {
                    answer = Some(meaning.clone());
                }
            }
        });
    });
    let Some(answer) = answer else { return };
    bench.files.question = None;
    match answer {
        Answer::Save(next) => {
            bench.files.after_save = Some(next);
            save(bench);
        }
        Answer::Drop(next) => go_on(bench, view, next),
        Answer::OtherFolder => choose(bench, FileRequest::Export),
        Answer::WriteOver(folder) => export_over(bench, &folder),
        Answer::Back => {}
    }
}

fn key_name(key: Key) -> &'static str {
    match key {
        Key::Escape => "Esc",
        other => other.name(),
    }
}

fn unsaved(bench: &Bench, next: Next) -> Words {
    let before = match &next {
        Next::Close => "before the window closes",
        Next::Demo => "before the demo opens",
        Next::Open(_) | Next::Restore(_) => "before another one opens",
    };
    let title = bench.session.design().map(|d| d.title.as_str()).unwrap_or_default();
    Words {
        heading: "This design is not saved",
        text: format!("Save “{title}” {before}?"),
        answers: [
            ("Save", Answer::Save(next.clone()), Key::Enter),
            ("Don’t save", Answer::Drop(next), Key::D),
            ("Back", Answer::Back, Key::Escape),
        ],
    }
}

fn folder_taken(bench: &Bench, folder: PathBuf, title: &str) -> Words {
    let own = bench.session.design().map(|d| d.title.as_str()).unwrap_or_default();
    Words {
        heading: "This folder has the files of another guard",
        text: format!(
            "{} has the files of “{title}”. Saving “{own}” there too could mix them up, and files with the same name are \
             overwritten. Nothing has been written yet.",
            folder.display()
        ),
        answers: [
            ("Other folder", Answer::OtherFolder, Key::Enter),
            ("Save here", Answer::WriteOver(folder), Key::S),
            ("Back", Answer::Back, Key::Escape),
        ],
    }
}
