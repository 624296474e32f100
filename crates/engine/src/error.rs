//! Everything that can stop the job, in words for the user.

use std::path::PathBuf;

use mesh::Cancelled;

/// Whose fault it is, for exit codes and for where the workbench shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// A file or setting that came in is wrong.
    Input,
    /// The input is sound, but what it asks for cannot be built.
    CannotBuild,
    /// Stopped on request.
    Cancelled,
}

/// Why a step of the job could not be done.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum EngineError {
    /// The scan could not be read.
    #[error(transparent)]
    Read(#[from] mesh::read::ReadError),
    /// The scan could not be cleaned.
    #[error(transparent)]
    Scan(#[from] scan::ScanError),
    /// The zone could not be made.
    #[error(transparent)]
    Zone(#[from] zone::ZoneError),
    /// The shell could not be built.
    #[error(transparent)]
    Shell(#[from] shell::ShellError),
    /// The design file or its scan is missing or wrong.
    #[error(transparent)]
    Locker(#[from] locker::LockerError),
    /// The fit could not be looked at.
    #[error(transparent)]
    Fit(#[from] fit::FitError),
    /// A print file, picture or page could not be made.
    #[error(transparent)]
    Print(#[from] print::Error),
    /// The materials file is wrong.
    #[error(transparent)]
    Materials(#[from] mechanics::Error),
    /// The strength of the guard cannot be told.
    #[error(transparent)]
    Strength(#[from] crate::StrengthError),
    /// A file could not be written.
    #[error(transparent)]
    Write(#[from] mesh::write::WriteError),
    /// No pen line on the scan.
    #[error("{why}")]
    NoPenLine {
        /// What the search says.
        why: scan::pen::NoLine,
    },
    /// The pen line does not close.
    #[error("{why}")]
    PenLineOpen {
        /// What the search says, and how the line could be closed where there is a way.
        why: String,
        /// How it could be closed, in the scan file's own coordinates; empty if there is no way.
        proposal: Vec<[f64; 3]>,
        /// Length of the part that would be added, mm.
        added_mm: f32,
    },
    /// The folder has the files of another guard.
    #[error("{} already has the files of another guard: {title}. Choose another folder, so that the two are not mixed up.", folder.display())]
    FolderTaken {
        /// Which folder.
        folder: PathBuf,
        /// Title of the guard whose files are there.
        title: String,
    },
    /// A file that is to be written is there already.
    #[error("{} already exists. Choose another name.", path.display())]
    FileThere {
        /// Which file.
        path: PathBuf,
    },
    /// A file of strokes or an outline is wrong.
    #[error("{}, line {line}, column {column}, at {field}: {why}.", path.display())]
    Marks {
        /// Which file.
        path: PathBuf,
        /// Line, from 1; 0 where the whole file is meant.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// Path of the field.
        field: String,
        /// What is wrong and what is expected.
        why: String,
    },
    /// A file is no picture that can be raised on a guard.
    #[error("{} cannot be taken as a picture: {why}. Give a PNG, JPEG or SVG file.", path.display())]
    Picture {
        /// Which file.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
    /// A number or word has no room anywhere.
    #[error("The zone has no room for “{text}”, not even 8 mm high. Take something away, or make the zone bigger.")]
    NoRoomForMark {
        /// What it says.
        text: String,
    },
    /// A picture has no room anywhere.
    #[error(
        "The zone has no room for the picture “{name}”, not even 8 mm high. Take something away, or make the zone bigger."
    )]
    NoRoomForPicture {
        /// Which picture.
        name: String,
    },
    /// A file or folder could not be read or made.
    #[error("{}: {source}; check the path and its permissions.", path.display())]
    File {
        /// Which one.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The report could not be turned into JSON.
    #[error("The report cannot be written as JSON: {0}.")]
    Json(#[from] serde_json::Error),
    /// Stopped on request.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl EngineError {
    /// Whose fault it is.
    #[must_use]
    pub fn fault(&self) -> Fault {
        match self {
            Self::Cancelled(_)
            | Self::Read(mesh::read::ReadError::Cancelled(_))
            | Self::Scan(scan::ScanError::Cancelled(_))
            | Self::Zone(zone::ZoneError::Cancelled(_))
            | Self::Shell(shell::ShellError::Cancelled(_))
            | Self::Fit(fit::FitError::Cancelled(_))
            | Self::Print(print::Error::Cancelled(_))
            | Self::Locker(locker::LockerError::Cancelled(_))
            | Self::Write(mesh::write::WriteError::Cancelled(_)) => Fault::Cancelled,
            Self::Strength(error) if error.is_stopped() => Fault::Cancelled,
            Self::Strength(
                crate::StrengthError::Unknown { .. } | crate::StrengthError::Liner(_) | crate::StrengthError::NoTargets,
            ) => Fault::Input,
            Self::Shell(_) | Self::Zone(_) | Self::Strength(_) => Fault::CannotBuild,
            _ => Fault::Input,
        }
    }
}
