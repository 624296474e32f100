//! Everything that can be wrong with a materials file.

use std::path::PathBuf;

/// What went wrong, as a sentence for the user.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// The file could not be read.
    #[error("Cannot read the materials file {}: {source}; check the path, or leave it out to use the built-in materials.", path.display())]
    Unreadable {
        /// Which file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Not JSON, or a field is missing, unknown or of the wrong type.
    #[error(
        "{name}, line {line}, column {column}, at {field}: {why}; compare with the built-in assets/materials.json."
    )]
    Malformed {
        /// The file's name.
        name: String,
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// Path of the field, such as `materials[1].density_g_per_cm3`.
        field: String,
        /// What is wrong.
        why: String,
    },
    /// A value that no filament can have.
    #[error("{name}, line {line}: {field} is {value}; {rule}.")]
    OutOfRange {
        /// The file's name.
        name: String,
        /// Line, from 1.
        line: usize,
        /// Path of the field.
        field: String,
        /// What the file says.
        value: String,
        /// What is allowed.
        rule: String,
    },
}
