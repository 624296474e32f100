//! Choosing a file or folder: the system's own dialog, or a small window with a path where the system has none.

use std::path::{Path, PathBuf};
use std::pin::Pin;
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use bevy::tasks::block_on;
use bevy_egui::egui::{self, RichText};
use rfd::{AsyncFileDialog, FileHandle};

use super::drawing::Drawn;
use super::question::frame;

/// Nobody closes a dialog sooner than this: then the system had none to show.
const TOO_SOON: Duration = Duration::from_millis(400);
/// Most entries of a folder that are listed.
const MOST_LISTED: usize = 400;

/// What is chosen for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// A scan or design to open.
    Open,
    /// Where the design is saved.
    SaveAs,
    /// A folder for the print files.
    Export,
    /// A folder where the scanner saves.
    Watch,
    /// A picture for the guard.
    Picture,
    /// Where a drawing of the guard is saved.
    Draw(Drawn),
}

impl Purpose {
    /// What is asked.
    fn title(self) -> &'static str {
        match self {
            Self::Open => "Open a scan or a design",
            Self::SaveAs => "Save the design as",
            Self::Export => "Folder for the print files",
            Self::Watch => "Folder where the scanner saves",
            Self::Picture => "A picture for the guard",
            Self::Draw(Drawn::Photo) => "Save the picture as",
            Self::Draw(Drawn::Turn) => "Save the turn as",
        }
    }

    /// What the button says.
    fn verb(self) -> &'static str {
        match self {
            Self::Open | Self::Picture => "Open",
            Self::SaveAs | Self::Draw(_) => "Save",
            Self::Export => "Save here",
            Self::Watch => "Watch it",
        }
    }

    /// Whether a file is written at the path.
    fn is_save(self) -> bool {
        matches!(self, Self::SaveAs | Self::Draw(_))
    }

    /// Ending of the file that is written.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Draw(what) => what.ending(),
            _ => "json",
        }
    }

    fn is_folder(self) -> bool {
        matches!(self, Self::Export | Self::Watch)
    }

    fn endings(self) -> &'static [&'static str] {
        match self {
            Self::Open => &["stl", "obj", "ply", "json"],
            Self::SaveAs => &["json"],
            Self::Draw(Drawn::Photo) => &["png"],
            Self::Draw(Drawn::Turn) => &["gif"],
            Self::Picture => &["png", "jpg", "jpeg"],
            Self::Export | Self::Watch => &[],
        }
    }
}

/// Something being chosen.
#[derive(Debug)]
pub struct Chooser {
    /// What for.
    pub purpose: Purpose,
    folder: PathBuf,
    name: String,
    asked: Instant,
    // Behind a lock only so that it may be looked at from any thread.
    system: Option<Mutex<Receiver<Option<PathBuf>>>>,
    own: Option<Own>,
    answer: Option<Option<PathBuf>>,
}

/// The small window of our own.
#[derive(Debug)]
struct Own {
    text: String,
    /// The field has been given the keyboard.
    focused: bool,
    /// Why the path will not do.
    refusal: Option<String>,
    /// A file that was asked about writing over.
    over: Option<PathBuf>,
    /// What the listed folder holds.
    listed: Option<(PathBuf, Vec<(String, bool)>)>,
}

impl Chooser {
    /// Begins with the system's dialog.
    pub fn begin(purpose: Purpose, folder: PathBuf, name: Option<String>) -> Self {
        let name = name.filter(|_| purpose.is_save()).unwrap_or_default();
        let mut chooser = Self { purpose, folder, name, asked: Instant::now(), system: None, own: None, answer: None };
        if cfg!(target_os = "linux") && !a_dialog_may_be_shown() {
            chooser.begin_own();
            return chooser;
        }
        let mut dialog = AsyncFileDialog::new().set_title(purpose.title()).set_directory(&chooser.folder);
        if !purpose.endings().is_empty() {
            let what = match purpose {
                Purpose::Picture | Purpose::Draw(_) => "Pictures",
                _ => "Scans and designs",
            };
            dialog = dialog.add_filter(what, purpose.endings());
        }
        let (sender, receiver) = channel();
        // The dialog is asked for here and waited for there, so that the window goes on.
        let future: Pin<Box<dyn Future<Output = Option<FileHandle>> + Send>> = match purpose {
            Purpose::Open | Purpose::Picture => Box::pin(dialog.pick_file()),
            Purpose::SaveAs | Purpose::Draw(_) => Box::pin(dialog.set_file_name(&chooser.name).save_file()),
            Purpose::Export | Purpose::Watch => Box::pin(dialog.pick_folder()),
        };
        std::thread::spawn(move || {
            let chosen = block_on(future).map(|file| file.path().to_owned());
            // Nobody listens any more where the window has closed.
            let _ = sender.send(chosen);
        });
        chooser.system = Some(Mutex::new(receiver));
        chooser
    }

    fn begin_own(&mut self) {
        self.system = None;
        let text = self.folder.join(&self.name).display().to_string();
        self.own = Some(Own { text, focused: false, refusal: None, over: None, listed: None });
    }

    /// The answer, once: a path, or nothing where the user went back.
    pub fn take(&mut self) -> Option<Option<PathBuf>> {
        if let Some(system) = &self.system {
            let said = system.lock().unwrap_or_else(PoisonError::into_inner).try_recv();
            match said {
                Ok(None) if self.asked.elapsed() < TOO_SOON => self.begin_own(),
                Ok(chosen) => self.answer = Some(chosen),
                Err(TryRecvError::Disconnected) => self.begin_own(),
                Err(TryRecvError::Empty) => {}
            }
        }
        self.answer.take()
    }

    /// Draws the window of our own, where that is what is used.
    pub fn show(&mut self, ctx: &egui::Context) {
        let purpose = self.purpose;
        let Some(own) = &mut self.own else { return };
        let mut answer = None;
        egui::Modal::new("chooser".into()).frame(frame(ctx)).show(ctx, |ui| {
            ui.set_width(560.0);
            ui.heading(purpose.title());
            let field =
                ui.add(egui::TextEdit::singleline(&mut own.text).desired_width(f32::INFINITY).hint_text("path"));
            if !own.focused {
                own.focused = true;
                field.request_focus();
            }
            if field.changed() {
                (own.refusal, own.over) = (None, None);
            }
            own.list(ui, purpose);
            if let Some(refusal) = &own.refusal {
                ui.label(RichText::new(refusal).color(ui.visuals().error_fg_color));
            }
            let entered = field.lost_focus() && ui.input(|i| i.key_pressed(egui::Key::Enter));
            ui.horizontal(|ui| {
                let verb = if own.over.is_some() { "Write over it" } else { purpose.verb() };
                if ui.button(verb).clicked() || entered {
                    answer = own.accept(purpose).map(Some);
                    // The keyboard stays with the field where the path will not do.
                    own.focused = false;
                }
                if ui.button("Back").clicked() || ui.input(|i| i.key_pressed(egui::Key::Escape)) {
                    answer = Some(None);
                }
            });
        });
        self.answer = answer;
    }
}

impl Own {
    /// The path, if it will do.
    fn accept(&mut self, purpose: Purpose) -> Option<PathBuf> {
        let path = PathBuf::from(self.text.trim());
        match refusal(purpose, &path) {
            Some(refusal) => {
                self.refusal = Some(refusal);
                None
            }
            None if purpose.is_save() && path.exists() && self.over.as_ref() != Some(&path) => {
                self.refusal = Some("There is a file of this name already.".to_owned());
                self.over = Some(path);
                None
            }
            None => Some(path),
        }
    }

    /// Folders and files to choose from by pointer.
    fn list(&mut self, ui: &mut egui::Ui, purpose: Purpose) {
        let typed = Path::new(self.text.trim());
        let folder = if typed.is_dir() { typed } else { typed.parent().unwrap_or(typed) }.to_owned();
        if self.listed.as_ref().is_none_or(|(of, _)| *of != folder) {
            self.listed = Some((folder.clone(), entries(&folder, purpose)));
        }
        let mut pressed = None;
        egui::ScrollArea::vertical().max_height(230.0).auto_shrink([false, true]).show(ui, |ui| {
            if let Some(above) = folder.parent()
                && ui.selectable_label(false, "one folder up").clicked()
            {
                pressed = Some(above.to_owned());
            }
            for (name, is_folder) in self.listed.iter().flat_map(|(_, entries)| entries) {
                let label = if *is_folder { format!("{name}{}", std::path::MAIN_SEPARATOR) } else { name.clone() };
                let path = folder.join(name);
                if ui.selectable_label(path == typed, label).clicked() {
                    pressed = Some(path);
                }
            }
        });
        if let Some(path) = pressed {
            self.text = path.display().to_string();
            (self.refusal, self.over) = (None, None);
        }
    }
}

/// Why a path will not do.
fn refusal(purpose: Purpose, path: &Path) -> Option<String> {
    if path.as_os_str().is_empty() {
        return Some("Type where it lies, or press one of the list.".to_owned());
    }
    let above = path.parent().is_none_or(|folder| folder.as_os_str().is_empty() || folder.is_dir());
    match purpose {
        Purpose::Open | Purpose::Picture => (!path.is_file()).then(|| "There is no such file.".to_owned()),
        Purpose::SaveAs | Purpose::Draw(_) if path.is_dir() => {
            Some("That is a folder; add a name for the file.".to_owned())
        }
        Purpose::SaveAs | Purpose::Draw(_) => (!above).then(|| "There is no such folder.".to_owned()),
        Purpose::Watch => (!path.is_dir()).then(|| "There is no such folder.".to_owned()),
        Purpose::Export if path.is_file() => Some("That is a file; choose a folder.".to_owned()),
        // It is made where only its last part is missing.
        Purpose::Export => (!above).then(|| "There is no such folder to make it in.".to_owned()),
    }
}

/// Folders first, then the files that may be chosen, both by name; nothing hidden.
fn entries(folder: &Path, purpose: Purpose) -> Vec<(String, bool)> {
    let Ok(found) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut entries: Vec<(String, bool)> = found
        .filter_map(|entry| {
            let path = entry.ok()?.path();
            let name = path.file_name()?.to_string_lossy().into_owned();
            let is_folder = path.is_dir();
            let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default();
            let wanted = is_folder || (!purpose.is_folder() && purpose.endings().contains(&ending.as_str()));
            (wanted && !name.starts_with('.')).then_some((name, is_folder))
        })
        .collect();
    entries.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    entries.truncate(MOST_LISTED);
    entries
}

/// Whether this system can show a dialog at all: it has a message bus to ask for one, or a program that shows it.
fn a_dialog_may_be_shown() -> bool {
    let bus = std::env::var_os("DBUS_SESSION_BUS_ADDRESS").is_some_and(|address| !address.is_empty())
        || std::env::var_os("XDG_RUNTIME_DIR").is_some_and(|folder| Path::new(&folder).join("bus").exists());
    let program = || {
        let folders = std::env::var_os("PATH").unwrap_or_default();
        std::env::split_paths(&folders).any(|folder| folder.join("zenity").is_file())
    };
    bus || program()
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
        for (purpose, path, fine) in [
            (Purpose::Open, file.as_path(), true),
            (Purpose::Open, folder.path(), false),
            (Purpose::SaveAs, folder.path(), false),
            (Purpose::SaveAs, &folder.path().join("new.json"), true),
            (Purpose::SaveAs, &missing, false),
            (Purpose::Export, &file, false),
            (Purpose::Export, &folder.path().join("prints"), true),
            (Purpose::Export, &missing, false),
            (Purpose::Watch, &folder.path().join("prints"), false),
            (Purpose::Watch, folder.path(), true),
        ] {
            assert_eq!(refusal(purpose, path).is_none(), fine, "{purpose:?} {}", path.display());
        }
        std::fs::write(folder.path().join("notes.txt"), "").unwrap();
        std::fs::create_dir(folder.path().join("zone")).unwrap();
        let listed = entries(folder.path(), Purpose::Open);
        assert_eq!(listed, [("zone".to_owned(), true), ("scan.PLY".to_owned(), false)]);
        assert_eq!(entries(folder.path(), Purpose::Export), [("zone".to_owned(), true)]);
    }

    #[test]
    fn a_file_is_written_over_only_when_asked_twice() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("guard.json");
        std::fs::write(&file, "{}").unwrap();
        let text = file.display().to_string();
        let mut own = Own { text, focused: true, refusal: None, over: None, listed: None };
        assert_eq!(own.accept(Purpose::SaveAs), None);
        assert!(own.refusal.is_some());
        assert_eq!(own.accept(Purpose::SaveAs), Some(file));
    }
}
