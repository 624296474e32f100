//! The system's own dialog for files and folders; where the system has none, a window of our own is used.

use std::path::{Path, PathBuf};
use std::pin::Pin;
use std::sync::mpsc::{TryRecvError, channel};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use bevy::tasks::block_on;
use rfd::{AsyncFileDialog, FileHandle};

use crate::state::files::{FileChooser, FileRequest, OwnChooser};

/// Nobody closes a dialog sooner than this, so the system had none to show.
const TOO_SOON: Duration = Duration::from_millis(400);

/// Most folders to start from, so that they take two rows at most.
const MOST_ROOTS: usize = 8;

/// Opens the system's dialog, or our own; `name` is proposed for the file or the folder of print files.
pub fn begin(request: FileRequest, folder: PathBuf, name: Option<String>) -> FileChooser {
    let mut chooser = unasked(request, folder, name);
    if cfg!(target_os = "linux") && !a_dialog_may_be_shown() {
        begin_own(&mut chooser);
        return chooser;
    }
    let mut dialog = AsyncFileDialog::new().set_title(request.title()).set_directory(&chooser.folder);
    if !request.endings().is_empty() {
        let what = match request {
            FileRequest::Picture | FileRequest::Raise | FileRequest::Render(_) => "Pictures",
            _ => "Scans and designs",
        };
        dialog = dialog.add_filter(what, request.endings());
    }
    let (sender, receiver) = channel();
    // Opened here but awaited on another thread, so that the window keeps drawing.
    let future: Pin<Box<dyn Future<Output = Option<FileHandle>> + Send>> = match request {
        FileRequest::Open | FileRequest::Picture | FileRequest::Raise => Box::pin(dialog.pick_file()),
        FileRequest::SaveAs | FileRequest::Render(_) => Box::pin(dialog.set_file_name(&chooser.name).save_file()),
        FileRequest::Export | FileRequest::Watch => Box::pin(dialog.pick_folder()),
    };
    std::thread::spawn(move || {
        let chosen = block_on(future).map(|file| file.path().to_owned());
        // Fails if the window has closed and nobody receives.
        let _ = sender.send(chosen);
    });
    chooser.system = Some(Mutex::new(receiver));
    chooser
}

fn unasked(request: FileRequest, folder: PathBuf, name: Option<String>) -> FileChooser {
    let name = name.filter(|_| request.is_save() || request == FileRequest::Export).unwrap_or_default();
    FileChooser { request, folder, name, asked: Instant::now(), system: None, own: None, answer: None }
}

/// One of our own, whatever the system has.
#[cfg(test)]
pub(crate) fn own_for_test(request: FileRequest, folder: &Path) -> FileChooser {
    let mut chooser = unasked(request, folder.to_owned(), None);
    begin_own(&mut chooser);
    chooser
}

fn begin_own(chooser: &mut FileChooser) {
    chooser.system = None;
    let text = chooser.folder.join(&chooser.name).display().to_string();
    chooser.own = Some(OwnChooser { text, roots: roots(), ..OwnChooser::default() });
}

/// Folders to start from, each with its name: home, then drives.
fn roots() -> Vec<(String, PathBuf)> {
    let home = std::env::home_dir().filter(|folder| folder.is_dir()).map(|folder| ("Home".to_owned(), folder));
    home.into_iter().chain(volumes()).take(MOST_ROOTS).collect()
}

/// The drives of this computer.
#[cfg(windows)]
fn volumes() -> Vec<(String, PathBuf)> {
    let drives = ('A'..='Z').map(|letter| (format!("{letter}:"), PathBuf::from(format!("{letter}:\\"))));
    drives.filter(|(_, root)| root.is_dir()).collect()
}

/// The drives of this computer: its root and the volumes that are mounted.
#[cfg(not(windows))]
fn volumes() -> Vec<(String, PathBuf)> {
    let mut all = vec![("Computer".to_owned(), PathBuf::from("/"))];
    // Linux mounts them below a folder with the user's name.
    let user = std::env::var_os("USER").unwrap_or_default();
    for above in [Path::new("/Volumes"), &Path::new("/media").join(&user), &Path::new("/run/media").join(&user)] {
        let Ok(entries) = std::fs::read_dir(above) else { continue };
        let mut found: Vec<PathBuf> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
        found.retain(|path| path.is_dir());
        found.sort();
        all.extend(found.into_iter().filter_map(|path| Some((path.file_name()?.to_string_lossy().into_owned(), path))));
    }
    all
}

/// The answer, once: a path, or none if the user cancelled.
pub fn answer(chooser: &mut FileChooser) -> Option<Option<PathBuf>> {
    if let Some(system) = &chooser.system {
        let said = system.lock().unwrap_or_else(PoisonError::into_inner).try_recv();
        match said {
            Ok(None) if chooser.asked.elapsed() < TOO_SOON => begin_own(chooser),
            Ok(chosen) => chooser.answer = Some(chosen),
            Err(TryRecvError::Disconnected) => begin_own(chooser),
            Err(TryRecvError::Empty) => {}
        }
    }
    chooser.answer.take()
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
