//! Reads JSON that people edit by hand: design files, filaments, strokes and outlines.
//!
//! The one promise: what is wrong is said in plain words on one line, with the line, the column and the field. Terms of
//! the JSON reader that only programmers know are replaced, and what was typed is shortened.
//!
//! ```
//! #[derive(serde::Deserialize)]
//! struct Spool { grams: f64 }
//!
//! let slip = plain_json::read::<Spool>("{\n  \"grams\": \"1 kg\"\n}").err().expect("a text is no number");
//! assert_eq!((slip.line, slip.field.as_str()), (2, "grams"));
//! assert_eq!(slip.why, "found the text “1 kg”, expected a number");
//! ```

mod words;

use serde::de::DeserializeOwned;

pub use words::{number, outside, short};

/// What is wrong with a JSON text, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slip {
    /// Line, from 1.
    pub line: usize,
    /// Column, from 1; 0 where the line before ended too early.
    pub column: usize,
    /// Path of the field, such as `shell.vents.size_mm`, or the place in words.
    pub field: String,
    /// What is wrong, without a full stop.
    pub why: String,
}

/// Reads a JSON text; a byte order mark before it is skipped.
///
/// # Errors
/// The text is not JSON, or does not hold what is wanted.
pub fn read<T: DeserializeOwned>(text: &str) -> Result<T, Slip> {
    let mut reader = serde_json::Deserializer::from_str(text.strip_prefix('\u{feff}').unwrap_or(text));
    let value = serde_path_to_error::deserialize(&mut reader).map_err(|e| slip(&e.path().to_string(), e.inner()))?;
    reader.end().map_err(|e| slip("the end of the file", &e))?;
    Ok(value)
}

/// Reads the bytes of a file that should be JSON.
///
/// # Errors
/// As [`read`], or the bytes are not UTF-8 text.
pub fn read_bytes<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Slip> {
    read(text(bytes)?)
}

/// The bytes of a file as text.
///
/// # Errors
/// They are not UTF-8 text; the place is that of the first bad byte.
pub fn text(bytes: &[u8]) -> Result<&str, Slip> {
    std::str::from_utf8(bytes).map_err(|e| {
        let good = String::from_utf8_lossy(&bytes[..e.valid_up_to()]);
        Slip {
            line: good.matches('\n').count() + 1,
            column: good.rsplit('\n').next().map_or(0, |row| row.chars().count()) + 1,
            field: "the text".into(),
            why: "bytes that are not UTF-8 text".into(),
        }
    })
}

/// A reader's error in plain words.
fn slip(path: &str, error: &serde_json::Error) -> Slip {
    let (line, column) = (error.line(), error.column());
    let why = error.to_string().replace(&format!(" at line {line} column {column}"), "");
    let syntax = !matches!(error.classify(), serde_json::error::Category::Data);
    // A question mark is a field whose name could not be read; the place is then the group around it.
    let field = match path.trim_end_matches('?').trim_matches('.') {
        "" if syntax => "the JSON text".into(),
        "" => "the top level".into(),
        path => words::short(path),
    };
    Slip { line, column, field, why: words::plain(&why) }
}
