//! Our own window to choose a file or folder, where the system has none.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use bevy_egui::egui::{self, Key, Modifiers, TextEdit};

use super::dialog_frame;
use crate::look::icons::Icon;
use crate::look::{self, field, listed};
use crate::state::files::{FileChooser, FileRequest, OwnChooser};

/// Most entries of a folder that are listed.
const MOST_LISTED: usize = 400;
/// A listed folder is read again after this time.
const REREAD_AFTER: Duration = Duration::from_secs(2);
/// Height of the list, whatever it holds, so that the buttons below it stay where they are.
const LIST_HEIGHT: f32 = 230.0;
/// Height reserved for why a path is refused.
const REFUSAL_HEIGHT: f32 = 26.0;
/// Keys of this window.
const HOME: (Modifiers, Key) = (Modifiers::ALT, Key::Home);
const UP: (Modifiers, Key) = (Modifiers::ALT, Key::ArrowUp);
/// Keys of the folders to start from, with Alt.
const ROOTS: [Key; 8] = [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5, Key::Num6, Key::Num7, Key::Num8];

/// Draws our own window, if it is in use.
pub fn show(ctx: &egui::Context, chooser: &mut FileChooser) {
    let request = chooser.request;
    let Some(own) = &mut chooser.own else { return };
    let mut answer = None;
    egui::Modal::new("chooser".into()).frame(dialog_frame(ctx)).show(ctx, |ui| {
        ui.set_width(560.0);
        ui.heading(request.title());
        roots(own, ui);
        let field = field(ui, TextEdit::singleline(&mut own.text).desired_width(f32::INFINITY).hint_text("path"));
        if !own.focused {
            own.focused = true;
            field.request_focus();
        }
        if field.changed() {
            (own.refusal, own.over) = (None, None);
        }
        list(own, ui, request);
        if request.is_save() || request.is_folder() {
            new_folder(own, ui);
        }
        let entered = field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
        ui.allocate_ui(egui::vec2(ui.available_width(), REFUSAL_HEIGHT), |ui| {
            ui.set_min_height(REFUSAL_HEIGHT);
            if let Some(refusal) = &own.refusal {
                look::problem(ui, refusal);
            }
        });
        ui.columns(2, |columns| {
            let verb = if own.over.is_some() { "Overwrite" } else { request.verb() };
            if look::primary(&mut columns[0], None, verb).clicked() || entered {
                answer = accept(own, request).map(Some);
                // The field keeps the focus if the path is refused.
                own.focused = false;
            }
            let back = look::secondary(&mut columns[1], "Back").on_hover_text("Esc");
            if back.clicked() || columns[1].input(|i| i.key_pressed(Key::Escape)) {
                answer = Some(None);
            }
        });
    });
    chooser.answer = answer;
}

/// Goes to another folder, with the name of the file kept.
fn go_to(own: &mut OwnChooser, folder: &Path) {
    let typed = PathBuf::from(own.text.trim());
    let name = typed.file_name().filter(|_| !typed.is_dir() && typed.extension().is_some());
    own.text = folder.join(name.unwrap_or_default()).display().to_string();
    (own.refusal, own.over) = (None, None);
}

/// Buttons for home and the drives.
fn roots(own: &mut OwnChooser, ui: &mut egui::Ui) {
    let mut pressed = None;
    ui.horizontal_wrapped(|ui| {
        for ((name, folder), key) in own.roots.iter().zip(ROOTS) {
            let button = look::button(ui, Some(Icon::Folder), name);
            let tip = format!("{}   Alt {}", folder.display(), key.name());
            if button.on_hover_text(tip).clicked() || ui.input_mut(|i| i.consume_key(Modifiers::ALT, key)) {
                pressed = Some(folder.clone());
            }
        }
    });
    let home = own.roots.first().filter(|_| ui.input_mut(|i| i.consume_key(HOME.0, HOME.1)));
    if let Some(folder) = pressed.or_else(|| home.map(|(_, folder)| folder.clone())) {
        go_to(own, &folder);
    }
}

/// Asks for the name of a new folder in the one that is listed, and makes it.
fn new_folder(own: &mut OwnChooser, ui: &mut egui::Ui) {
    ui.horizontal(|ui| {
        ui.label("New folder");
        let field = field(ui, TextEdit::singleline(&mut own.new_folder).desired_width(220.0).hint_text("its name"));
        let entered = field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
        let named = !own.new_folder.trim().is_empty();
        let button = ui.add_enabled_ui(named, |ui| look::button(ui, None, "Create")).inner;
        if button.clicked() || (entered && named) {
            make_folder(own);
        }
    });
}

/// Makes a folder of that name in the listed one and goes there, or says why it cannot be made.
fn make_folder(own: &mut OwnChooser) {
    let name = own.new_folder.trim();
    // A name only: nothing that leads elsewhere.
    if Path::new(name).components().count() != 1 || !matches!(Path::new(name).file_name(), Some(n) if n == name) {
        own.refusal = Some("A folder's name has no / and no \\ in it.".to_owned());
        return;
    }
    let folder = listed_folder(&own.text).join(name);
    match std::fs::create_dir(&folder) {
        Ok(()) => {
            own.new_folder.clear();
            go_to(own, &folder);
        }
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {
            own.refusal = Some(format!("There is something called {name} already."));
        }
        Err(error) => own.refusal = Some(format!("{name} cannot be created here: {error}.")),
    }
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

/// The folder that is listed: the one typed, or the nearest one above it that exists.
fn listed_folder(text: &str) -> PathBuf {
    let typed = Path::new(text.trim());
    typed.ancestors().find(|folder| folder.is_dir()).unwrap_or(typed).to_owned()
}

/// Folders and files to choose from by pointer.
fn list(own: &mut OwnChooser, ui: &mut egui::Ui, request: FileRequest) {
    let typed = PathBuf::from(own.text.trim());
    let folder = listed_folder(&own.text);
    let is_old = own.read_at.is_none_or(|at| at.elapsed() >= REREAD_AFTER);
    if is_old || own.listed.as_ref().is_none_or(|(of, _)| *of != folder) {
        own.read_at = Some(Instant::now());
        own.listed = Some((folder.clone(), entries(&folder, request)));
    }
    let mut pressed = None;
    let up = ui.input_mut(|i| i.consume_key(UP.0, UP.1));
    let area = egui::ScrollArea::vertical().id_salt(&folder).min_scrolled_height(LIST_HEIGHT);
    area.max_height(LIST_HEIGHT).auto_shrink(false).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = 2.0;
        if let Some(above) = folder.parent()
            && (listed(ui, false, Some(Icon::Folder), "One folder up").on_hover_text("Alt Up").clicked() || up)
        {
            pressed = Some(above.to_owned());
        }
        for (name, is_folder) in own.listed.iter().flat_map(|(_, entries)| entries) {
            let path = folder.join(name);
            let icon = if *is_folder { Icon::Folder } else { Icon::Open };
            if listed(ui, path == typed, Some(icon), name).clicked() {
                pressed = Some(path);
            }
        }
    });
    let Some(path) = pressed else { return };
    if path.is_dir() {
        go_to(own, &path);
    } else {
        own.text = path.display().to_string();
        (own.refusal, own.over) = (None, None);
    }
}

/// Why a path will not do.
fn refusal(request: FileRequest, path: &Path) -> Option<String> {
    if path.as_os_str().is_empty() {
        return Some("Type a path or choose from the list.".to_owned());
    }
    let above = path.parent().is_none_or(|folder| folder.as_os_str().is_empty() || folder.is_dir());
    match request {
        FileRequest::Open | FileRequest::Picture | FileRequest::Raise => {
            (!path.is_file()).then(|| "There is no such file.".to_owned())
        }
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
        let mut own = OwnChooser { text: file.display().to_string(), focused: true, ..OwnChooser::default() };
        assert_eq!(accept(&mut own, FileRequest::SaveAs), None);
        assert!(own.refusal.is_some());
        assert_eq!(accept(&mut own, FileRequest::SaveAs), Some(file));
    }

    #[test]
    fn a_new_folder_is_made_where_one_is_and_the_name_of_the_file_goes_along() {
        let folder = tempfile::tempdir().unwrap();
        let text = folder.path().join("guard.json").display().to_string();
        let mut own = OwnChooser { text, new_folder: " prints ".to_owned(), ..OwnChooser::default() };
        make_folder(&mut own);
        let made = folder.path().join("prints");
        assert!(made.is_dir() && own.refusal.is_none());
        assert_eq!(Path::new(&own.text), made.join("guard.json"));
        for name in ["..", ".", "a/b", "/"] {
            own.new_folder = name.to_owned();
            make_folder(&mut own);
            assert!(own.refusal.take().is_some(), "{name}");
        }
        assert_eq!(std::fs::read_dir(&made).unwrap().count(), 0);
        go_to(&mut own, folder.path());
        own.new_folder = "prints".to_owned();
        make_folder(&mut own);
        assert!(own.refusal.is_some_and(|why| why.contains("prints already")));
    }

    /// Where the texts of the buttons stand, after some frames.
    fn buttons(ctx: &egui::Context, chooser: &mut FileChooser) -> Vec<(String, egui::Pos2)> {
        let mut found = Vec::new();
        for _ in 0..4 {
            let output = ctx.run_ui(egui::RawInput::default(), |ui| show(ui.ctx(), chooser));
            found = output.shapes.into_iter().filter_map(|shape| text_of(&shape.shape)).collect();
        }
        found.retain(|(text, _)| ["Save here", "Back", "Create"].contains(&text.as_str()));
        found
    }

    fn text_of(shape: &egui::Shape) -> Option<(String, egui::Pos2)> {
        let egui::Shape::Text(text) = shape else { return None };
        Some((text.galley.text().to_owned(), text.pos))
    }

    #[test]
    fn the_buttons_stay_where_they_are_however_much_there_is_to_list_or_to_say() {
        let folder = tempfile::tempdir().unwrap();
        let (full, empty) = (folder.path().join("full"), folder.path().join("empty"));
        std::fs::create_dir(&empty).unwrap();
        (0..40).for_each(|i| std::fs::create_dir_all(full.join(i.to_string())).unwrap());
        let ctx = egui::Context::default();
        look::apply(&ctx, &look::colours::CALM);
        let mut chooser = crate::commands::file_chooser::own_for_test(FileRequest::Export, &full);
        let before = buttons(&ctx, &mut chooser);
        assert_eq!(before.len(), 3, "{before:?}");
        for (text, refusal) in [(&empty, None), (&empty, Some("There is no such folder.".to_owned())), (&full, None)] {
            let own = chooser.own.as_mut().unwrap();
            (own.text, own.refusal) = (text.display().to_string(), refusal);
            assert_eq!(buttons(&ctx, &mut chooser), before, "{}", text.display());
        }
    }
}
