//! What is going on with files: what is being chosen or asked, and what came of it.

use std::path::PathBuf;
use std::sync::mpsc::Receiver;
use std::sync::{Arc, Mutex};
use std::time::Instant;

use engine::{EngineError, MakeReport};
use session::{Task, UnsavedDesign};

/// What is going on with files.
#[derive(Debug, Default)]
pub struct Files {
    /// Something is being chosen.
    pub chooser: Option<FileChooser>,
    /// A question that waits for an answer, because something would be lost.
    pub question: Option<Question>,
    /// The question has not been drawn yet; until then, the key that led to it is no answer.
    pub unseen: bool,
    /// What comes next once the design is saved.
    pub after_save: Option<Next>,
    /// A new scan in the watched folder.
    pub arrived: Option<PathBuf>,
    /// The print files made last.
    pub exported: Option<(PathBuf, Arc<MakeReport>)>,
    /// A picture or turn that is being drawn.
    pub rendering: Task<Result<PathBuf, EngineError>>,
    /// A file is held over the window.
    pub hovering: bool,
    /// Folders with new files are opened in the system's file manager.
    pub shows_folders: bool,
    /// The window is to close.
    pub closing: bool,
    /// Where what is open came from.
    pub origin: Origin,
    /// Where what is being opened comes from.
    pub next_origin: Origin,
    /// The recent designs, and those of them whose files are still there.
    recent: [Vec<PathBuf>; 2],
}

impl Files {
    /// Those of the recent designs whose files are still there, looked up anew only where the list has changed: a
    /// folder on the network may take seconds to answer.
    pub fn still_there(&mut self, recent: &[PathBuf]) -> &[PathBuf] {
        let [known, there] = &mut self.recent;
        if known != recent {
            recent.clone_into(known);
            *there = recent.iter().filter(|path| path.is_file()).cloned().collect();
        }
        there
    }

    /// Whether something stands in front of the window.
    pub fn is_asking(&self) -> bool {
        self.question.is_some() || self.chooser.is_some()
    }
}

/// Where a scan or design was opened from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Origin {
    /// A file.
    #[default]
    File,
    /// Unsaved work of an earlier sitting.
    UnsavedWork,
    /// The demo.
    Demo,
}

/// What is asked before something is lost.
#[derive(Debug, Clone, PartialEq)]
pub enum Question {
    /// Unsaved work, by what comes next.
    Unsaved(Next),
    /// The folder for print files has those of another guard.
    FolderTaken {
        /// The folder.
        folder: PathBuf,
        /// Title of the other guard.
        title: String,
    },
}

/// What comes next once the current work is safe or given up.
#[derive(Debug, Clone, PartialEq)]
pub enum Next {
    /// Opens this scan or design.
    Open(PathBuf),
    /// Takes up unsaved work.
    Restore(UnsavedDesign),
    /// Opens the demo.
    Demo,
    /// Closes the window.
    Close,
}

/// What is drawn of the guard for a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rendering {
    /// 10 by 15 cm at 300 dots an inch.
    Photo,
    /// A short turn.
    Turntable,
}

impl Rendering {
    /// Ending of its file.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Photo => "png",
            Self::Turntable => "gif",
        }
    }
}

/// What a file or folder is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileRequest {
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
    /// A picture that is raised on the guard.
    Raise,
    /// Where a drawing of the guard is saved.
    Render(Rendering),
}

impl FileRequest {
    /// What is asked.
    pub fn title(self) -> &'static str {
        match self {
            Self::Open => "Open a scan or a design",
            Self::SaveAs => "Save the design as",
            Self::Export => "Folder for the print files",
            Self::Watch => "Folder where the scanner saves",
            Self::Picture => "A picture for the guard",
            Self::Raise => "A picture to raise on the guard",
            Self::Render(Rendering::Photo) => "Save the picture as",
            Self::Render(Rendering::Turntable) => "Save the turn as",
        }
    }

    /// What the button says.
    pub fn verb(self) -> &'static str {
        match self {
            Self::Open | Self::Picture | Self::Raise => "Open",
            Self::SaveAs | Self::Render(_) => "Save",
            Self::Export => "Save here",
            Self::Watch => "Watch it",
        }
    }

    /// Whether a file is written at the path.
    pub fn is_save(self) -> bool {
        matches!(self, Self::SaveAs | Self::Render(_))
    }

    /// Ending of the file that is written.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Render(what) => what.ending(),
            _ => "json",
        }
    }

    /// The kind of file, by which the folder used last is remembered.
    pub fn kind(self) -> &'static str {
        match self {
            Self::Open => "opened",
            Self::SaveAs => "designs",
            Self::Export => "print-files",
            Self::Watch => "scanner",
            Self::Picture | Self::Raise => "pictures",
            Self::Render(_) => "pictures-of-guards",
        }
    }

    /// Whether a folder is asked for.
    pub fn is_folder(self) -> bool {
        matches!(self, Self::Export | Self::Watch)
    }

    /// Endings of the files that may be chosen.
    pub fn endings(self) -> &'static [&'static str] {
        match self {
            Self::Open => &["stl", "obj", "ply", "json"],
            Self::SaveAs => &["json"],
            Self::Render(Rendering::Photo) => &["png"],
            Self::Render(Rendering::Turntable) => &["gif"],
            Self::Picture => &["png", "jpg", "jpeg"],
            Self::Raise => &["png", "jpg", "jpeg", "svg"],
            Self::Export | Self::Watch => &[],
        }
    }
}

/// Something being chosen.
#[derive(Debug)]
pub struct FileChooser {
    /// What for.
    pub request: FileRequest,
    /// Where it begins.
    pub folder: PathBuf,
    /// A name for the file.
    pub name: String,
    /// When it was asked for.
    pub asked: Instant,
    /// The system's dialog; locked only because a `Receiver` is not `Sync`.
    pub system: Option<Mutex<Receiver<Option<PathBuf>>>>,
    /// Our own window, where the system has none.
    pub own: Option<OwnChooser>,
    /// The path, or none if the user cancelled.
    pub answer: Option<Option<PathBuf>>,
}

/// State of our own window to choose a file.
#[derive(Debug, Default)]
pub struct OwnChooser {
    /// The path as it is typed.
    pub text: String,
    /// The field has been given the keyboard.
    pub focused: bool,
    /// Why the path will not do.
    pub refusal: Option<String>,
    /// A file that the user was asked about overwriting.
    pub over: Option<PathBuf>,
    /// What the listed folder holds.
    pub listed: Option<(PathBuf, Vec<(String, bool)>)>,
    /// When it was read.
    pub read_at: Option<Instant>,
    /// Folders to start from, each with its name: home, then drives.
    pub roots: Vec<(String, PathBuf)>,
    /// Name of a folder to be made.
    pub new_folder: String,
}
