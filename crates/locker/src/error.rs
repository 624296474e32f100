//! Everything that can be wrong with a design file or its scan.

use std::path::PathBuf;

/// What went wrong, as a sentence for the user.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LockerError {
    /// The file could not be read.
    #[error("{} cannot be read: {source}; check the path.", path.display())]
    Unreadable {
        /// Which file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The file is larger than any design file.
    #[error("{name} is {megabytes} MB; a design file has at most {allowed} MB, so this is something else.")]
    TooLarge {
        /// Name of the file.
        name: String,
        /// Its size.
        megabytes: u64,
        /// The most that is read.
        allowed: u64,
    },
    /// The file is JSON, but not a design.
    #[error(
        "{name} is not a Pauldron design file: its field \"pauldron_design\" is {found}, but must be a version number."
    )]
    NotADesign {
        /// Name of the file.
        name: String,
        /// What is there instead.
        found: String,
    },
    /// Written by a newer program.
    #[error(
        "{name} was written by a newer Pauldron (file version {}; this one reads up to {known}); update this program.",
        plain_json::number(&version.to_string())
    )]
    Newer {
        /// Name of the file.
        name: String,
        /// Version in the file.
        version: u64,
        /// Newest version known here.
        known: u64,
    },
    /// Not JSON, or a field is missing, unknown or of the wrong kind.
    #[error("{name}, line {line}, column {column}, at {field}: {why}.")]
    Malformed {
        /// Name of the file.
        name: String,
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// Path of the field, such as `shell.vents.size_mm`.
        field: String,
        /// What is wrong and what is allowed.
        why: String,
    },
    /// A value outside its range.
    #[error("{name}, line {line}, column {column}: {field} is {value}, but must be {allowed}.")]
    OutOfRange {
        /// Name of the file.
        name: String,
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// Path of the field, such as `shell.vents.size_mm`.
        field: String,
        /// What the file says.
        value: String,
        /// What is allowed.
        allowed: String,
    },
    /// The scan is neither inside nor beside the design.
    #[error("The scan of this design was not found: no file with the content {sha256} in {} or its folder \"scans\"; put the scan file back there under any name.", folder.display())]
    ScanMissing {
        /// SHA-256 of the scan.
        sha256: String,
        /// Where it was looked for.
        folder: PathBuf,
    },
    /// The scan inside the design file is damaged.
    #[error(
        "The scan kept inside the design is damaged ({what}); take the design file from a backup, or start again from the scan."
    )]
    ScanDamaged {
        /// How.
        what: String,
    },
    /// A file could not be written.
    #[error(transparent)]
    Write(mesh::write::WriteError),
    /// The work was stopped.
    #[error(transparent)]
    Cancelled(#[from] mesh::Cancelled),
    /// The folder for scans could not be made.
    #[error("The folder {} cannot be made: {source}; choose another place for the design.", path.display())]
    Folder {
        /// Which folder.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
}

impl From<mesh::write::WriteError> for LockerError {
    fn from(error: mesh::write::WriteError) -> Self {
        match error {
            mesh::write::WriteError::Cancelled(cancelled) => Self::Cancelled(cancelled),
            error => Self::Write(error),
        }
    }
}
