//! The window of our own in which a file or folder is chosen, where the system has none.

use std::path::{Path, PathBuf};

use bevy_egui::egui::{self, RichText};

use super::dialog_frame;
use crate::state::files::{FileChooser, FileRequest, OwnChooser};

/// Most entries of a folder that are listed.
const MOST_LISTED: usize = 400;

/// Draws the window of our own, where that is what is used.
pub fn show(ctx: &egui::Context, chooser: &mut FileChooser) {
    let request = chooser.request;
    let Some(own) = &mut chooser.own else { return };
    let mut answer = None;
    egui::Modal::new("chooser".into()).frame(dialog_frame(ctx)).show(ctx, |ui| {
        ui.set_width(560.0);
        ui.heading(request.title());
        let field = ui.add(egui::TextEdit::singleline(&mut own.text).desired_width(f32::INFINITY).hint_text("path"));
        if !own.focused {
            own.focused = true;
            field.request_focus();
        }
        if field.changed() {
            (own.refusal, own.over) = (None, None);
        }
        list(own, ui, request);
        if let Some(refusal) = &own.refusal {
            ui.label(RichText::new(refusal).color(ui.visuals().error_fg_color));
        }
        let entered = field.lost_focus() && ui.input(|i| i.key_pressed(egui::Key::Enter));
        ui.horizontal(|ui| {
            let verb = if own.over.is_some() { "Write over it" } else { request.verb() };
            if ui.button(verb).clicked() || entered {
                answer = accept(own, request).map(Some);
                // The keyboard stays with the field where the path will not do.
                own.focused = false;
            }
            if ui.button("Back").clicked() || ui.input(|i| i.key_pressed(egui::Key::Escape)) {
                answer = Some(None);
            }
        });
    });
    chooser.answer = answer;
}

/// The path, if it will do.
fn accept(own: &mut OwnChooser, request: FileRequest) -> Option<PathBuf> {
    let path = PathBuf::from(own.text.trim());
    match refusal(request, &path) {
        Some(refusal) => {
            own.refusal = Some(refusal);
            None
        }
        None if request.is_save() && path.exists() && own.over.as_ref() != Some(&path) => {
            own.refusal = Some("There is a file of this name already.".to_owned());
            own.over = Some(path);
            None
        }
        None => Some(path),
    }
}

/// Folders and files to choose from by pointer.
fn list(own: &mut OwnChooser, ui: &mut egui::Ui, request: FileRequest) {
    let typed = Path::new(own.text.trim());
    let folder = if typed.is_dir() { typed } else { typed.parent().unwrap_or(typed) }.to_owned();
    if own.listed.as_ref().is_none_or(|(of, _)| *of != folder) {
        own.listed = Some((folder.clone(), entries(&folder, request)));
    }
    let mut pressed = None;
    egui::ScrollArea::vertical().max_height(230.0).auto_shrink([false, true]).show(ui, |ui| {
        if let Some(above) = folder.parent()
            && ui.selectable_label(false, "one folder up").clicked()
        {
            pressed = Some(above.to_owned());
        }
        for (name, is_folder) in own.listed.iter().flat_map(|(_, entries)| entries) {
            let label = if *is_folder { format!("{name}{}", std::path::MAIN_SEPARATOR) } else { name.clone() };
            let path = folder.join(name);
            if ui.selectable_label(path == typed, label).clicked() {
                pressed = Some(path);
            }
        }
    });
    if let Some(path) = pressed {
        own.text = path.display().to_string();
        (own.refusal, own.over) = (None, None);
    }
}

/// Why a path will not do.
fn refusal(request: FileRequest, path: &Path) -> Option<String> {
    if path.as_os_str().is_empty() {
        return Some("Type where it lies, or press one of the list.".to_owned());
    }
    let above = path.parent().is_none_or(|folder| folder.as_os_str().is_empty() || folder.is_dir());
    match request {
        FileRequest::Open | FileRequest::Picture => (!path.is_file()).then(|| "There is no such file.".to_owned()),
        FileRequest::SaveAs | FileRequest::Render(_) if path.is_dir() => {
            Some("That is a folder; add a name for the file.".to_owned())
        }
        FileRequest::SaveAs | FileRequest::Render(_) => (!above).then(|| "There is no such folder.".to_owned()),
        FileRequest::Watch => (!path.is_dir()).then(|| "There is no such folder.".to_owned()),
        FileRequest::Export if path.is_file() => Some("That is a file; choose a folder.".to_owned()),
        // It is made where only its last part is missing.
        FileRequest::Export => (!above).then(|| "There is no such folder to make it in.".to_owned()),
    }
}

/// Folders first, then the files that may be chosen, both by name; nothing hidden.
fn entries(folder: &Path, request: FileRequest) -> Vec<(String, bool)> {
    let Ok(found) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut entries: Vec<(String, bool)> = found
        .filter_map(|entry| {
            let path = entry.ok()?.path();
            let name = path.file_name()?.to_string_lossy().into_owned();
            let is_folder = path.is_dir();
            let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default();
            let wanted = is_folder || (!request.is_folder() && request.endings().contains(&ending.as_str()));
            (wanted && !name.starts_with('.')).then_some((name, is_folder))
        })
        .collect();
    entries.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    entries.truncate(MOST_LISTED);
    entries
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_that_will_not_do_are_refused_before_anything_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("scan.PLY");
        std::fs::write(&file, "ply").unwrap();
        let missing = folder.path().join("no").join("such");
        for (request, path, fine) in [
            (FileRequest::Open, file.as_path(), true),
            (FileRequest::Open, folder.path(), false),
            (FileRequest::SaveAs, folder.path(), false),
            (FileRequest::SaveAs, &folder.path().join("new.json"), true),
            (FileRequest::SaveAs, &missing, false),
            (FileRequest::Export, &file, false),
            (FileRequest::Export, &folder.path().join("prints"), true),
            (FileRequest::Export, &missing, false),
            (FileRequest::Watch, &folder.path().join("prints"), false),
            (FileRequest::Watch, folder.path(), true),
        ] {
            assert_eq!(refusal(request, path).is_none(), fine, "{request:?} {}", path.display());
        }
        std::fs::write(folder.path().join("notes.txt"), "").unwrap();
        std::fs::create_dir(folder.path().join("zone")).unwrap();
        let listed = entries(folder.path(), FileRequest::Open);
        assert_eq!(listed, [("zone".to_owned(), true), ("scan.PLY".to_owned(), false)]);
        assert_eq!(entries(folder.path(), FileRequest::Export), [("zone".to_owned(), true)]);
    }

    #[test]
    fn a_file_is_written_over_only_when_asked_twice() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("guard.json");
        std::fs::write(&file, "{}").unwrap();
        let text = file.display().to_string();
        let mut own = OwnChooser { text, focused: true, refusal: None, over: None, listed: None };
        assert_eq!(accept(&mut own, FileRequest::SaveAs), None);
        assert!(own.refusal.is_some());
        assert_eq!(accept(&mut own, FileRequest::SaveAs), Some(file));
    }
}
