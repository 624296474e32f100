//! Reading and writing design files.

use std::path::Path;

use serde_json::Value;

use shell::limits;

use crate::field_place::place_of;
use crate::{DesignFile, KeptFile, LockerError, MOST_SQUAD_NUMBER, VERSION, compact_json};

/// Largest design file that is read, MB: room for a scan of some million triangles in base 64.
const LARGEST_MB: u64 = 800;
/// Longest title, letters.
const LONGEST_TITLE: usize = 80;

/// Reads and checks a design file.
///
/// # Errors
/// The file cannot be read, is not a design, is from a newer program, or is wrong in a way that the error names by
/// line, column and field.
pub fn load_design(path: &Path) -> Result<DesignFile, LockerError> {
    let unreadable = |source| LockerError::Unreadable { path: path.into(), source };
    let megabytes = std::fs::metadata(path).map_err(unreadable)?.len() >> 20;
    if megabytes > LARGEST_MB {
        return Err(LockerError::TooLarge { name: path.display().to_string(), megabytes, allowed: LARGEST_MB });
    }
    let bytes = std::fs::read(path).map_err(unreadable)?;
    let name = path.display().to_string();
    let text = String::from_utf8(bytes).map_err(|e| {
        let good = String::from_utf8_lossy(&e.as_bytes()[..e.utf8_error().valid_up_to()]).into_owned();
        LockerError::Malformed {
            name: name.clone(),
            line: good.matches('\n').count() + 1,
            column: good.rsplit('\n').next().map_or(0, |row| row.chars().count()) + 1,
            field: "the text".into(),
            why: "bytes that are no UTF-8 text".into(),
        }
    })?;
    parse_design(&text, &name)
}

/// Reads and checks the text of a design file; `name` is used in messages.
///
/// # Errors
/// As [`load_design`].
pub fn parse_design(text: &str, name: &str) -> Result<DesignFile, LockerError> {
    // A byte order mark is no part of the text.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    check_version(text, name)?;
    let mut reader = serde_json::Deserializer::from_str(text);
    let design: DesignFile =
        serde_path_to_error::deserialize(&mut reader).map_err(|e| malformed(name, e.path().to_string(), e.inner()))?;
    reader.end().map_err(|e| malformed(name, "the end of the file".into(), &e))?;
    check(&design).map_err(|(field, value, allowed)| {
        let (line, column) = place_of(text, &field);
        LockerError::OutOfRange { name: name.into(), line, column, field, value, allowed }
    })?;
    Ok(design)
}

/// The text of a design file.
///
/// # Errors
/// The design holds a value that no design file may hold, such as a number that is infinite.
pub fn write_design(design: &DesignFile) -> Result<String, LockerError> {
    let name = "the design";
    check(design).map_err(|(field, value, allowed)| LockerError::OutOfRange {
        name: name.into(),
        line: 0,
        column: 0,
        field,
        value,
        allowed,
    })?;
    compact_json::to_text(design).map_err(|e| malformed(name, "the design".into(), &e))
}

/// Writes a design file: whole, or not at all.
///
/// # Errors
/// As [`write_design`], or the file cannot be written.
pub fn save_design(design: &DesignFile, path: &Path) -> Result<(), LockerError> {
    let text = write_design(design)?;
    Ok(mesh::write::save_atomic(path, |out| out.write_all(text.as_bytes()))?)
}

fn check_version(text: &str, name: &str) -> Result<(), LockerError> {
    let value: Value = serde_json::from_str(text).map_err(|e| malformed(name, "the JSON text".into(), &e))?;
    match value.get("pauldron_design") {
        Some(Value::Number(n)) if n.as_u64().is_some_and(|v| (1..=VERSION).contains(&v)) => Ok(()),
        Some(Value::Number(n)) if n.as_u64().is_some_and(|v| v > VERSION) => {
            Err(LockerError::Newer { name: name.into(), version: n.as_u64().unwrap_or(u64::MAX), known: VERSION })
        }
        other => {
            let found = other.map_or_else(|| "missing".into(), |v| v.to_string().chars().take(40).collect());
            Err(LockerError::NotADesign { name: name.into(), found })
        }
    }
}

fn malformed(name: &str, field: String, error: &serde_json::Error) -> LockerError {
    let (line, column) = (error.line(), error.column());
    let why = error.to_string().replace(&format!(" at line {line} column {column}"), "");
    let why = plain(&why);
    let field = if field == "." { "the top".into() } else { field };
    LockerError::Malformed { name: name.into(), line, column, field, why }
}

/// What the JSON reader expected, in words for somebody who edits the file by hand.
fn plain(why: &str) -> String {
    const WORDS: [(&str, &str); 8] = [
        ("expected a matrix array", "expected a list of 3 numbers"),
        ("expected an array of length", "expected a list of length"),
        ("expected f32", "expected a number"),
        ("expected f64", "expected a number"),
        ("expected u32", "expected a whole number from 0 up"),
        ("expected u64", "expected a whole number from 0 up"),
        ("expected a boolean", "expected true or false"),
        ("unknown variant", "unknown choice"),
    ];
    WORDS.iter().fold(why.to_owned(), |text, (from, to)| text.replace(from, to))
}

/// Field, value and what is allowed.
pub(crate) type Wrong = (String, String, String);

/// Field, value and what is allowed, for the first value out of its range.
fn check(design: &DesignFile) -> Result<(), Wrong> {
    let wrong = |field: &str, value: String, allowed: &str| Err((field.to_owned(), value, allowed.to_owned()));
    if design.title.chars().count() > LONGEST_TITLE || design.title.chars().any(char::is_control) {
        return wrong("title", format!("{:?}", design.title), "at most 80 letters on one line");
    }
    if let Some(number) = design.squad_number.filter(|n| *n > MOST_SQUAD_NUMBER) {
        return wrong("squad_number", number.to_string(), &format!("between 0 and {MOST_SQUAD_NUMBER}, or left out"));
    }
    for (limit, value) in [(&limits::VOXEL, design.resolution_mm), (&limits::TOLERANCE, design.tolerance_mm)] {
        if !limit.allows(value) {
            let allowed = format!("between {} and {} mm", limit.least, limit.most);
            return wrong(limit.field, limits::refused(value, limit.least, limit.most), &allowed);
        }
    }
    check_kept(&design.scan.file, "scan.file")?;
    for (n, companion) in design.scan.companions.iter().enumerate() {
        check_kept(&companion.file, &format!("scan.companions[{n}].file"))?;
    }
    if let Some(look) = &design.look {
        look.check()?;
    }
    check_placement(design)?;
    design.clean.check().map_err(|e| match e {
        scan::ScanError::Setting { field, value, allowed } => (format!("clean.{field}"), value, allowed.to_owned()),
        other => ("clean".to_owned(), other.to_string(), "as documented".to_owned()),
    })?;
    design.zone.check().map_err(|e| match e {
        zone::ZoneError::OutOfRange { field, value, low, high } => {
            (format!("zone.{field}"), limits::refused(value, low, high), format!("between {low} and {high}"))
        }
        zone::ZoneError::TooFewPoints { field, found } => (
            format!("zone.{field}"),
            format!("{found} points"),
            "a closed line of at least 3 different points".to_owned(),
        ),
        other => ("zone".to_owned(), other.to_string(), "as documented".to_owned()),
    })?;
    design.shell.check().map_err(|e| (format!("shell.{}", e.field), e.value, e.allowed))
}

pub(crate) fn check_kept(file: &KeptFile, path: &str) -> Result<(), Wrong> {
    if file.sha256.len() == 64 && file.sha256.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f')) {
        return Ok(());
    }
    let value = format!("{:?}", file.sha256.chars().take(80).collect::<String>());
    Err((format!("{path}.sha256"), value, "64 small hexadecimal figures".to_owned()))
}

fn check_placement(design: &DesignFile) -> Result<(), Wrong> {
    let placement = &design.placement;
    if !(1e-4..=1e5).contains(&placement.unit_mm) {
        let allowed = "between 0.0001 and 100000 mm";
        return Err(("placement.unit_mm".into(), placement.unit_mm.to_string(), allowed.into()));
    }
    let turn = placement.pose.rotation.coords;
    if !(1.0 - 1e-6..=1.0 + 1e-6).contains(&turn.norm()) {
        let allowed = "a turn as four numbers i, j, k, w whose squares add up to 1".into();
        return Err(("placement.pose.rotation".into(), format!("{:?}", turn.as_slice()), allowed));
    }
    let shift = placement.pose.translation.vector;
    if !shift.iter().all(|x| (-1e7..=1e7).contains(x)) {
        let allowed = "three numbers between −10000000 and 10000000 mm".into();
        return Err(("placement.pose.translation".into(), format!("{:?}", shift.as_slice()), allowed));
    }
    if placement.mirrored != design.clean.mirror {
        let allowed = "the same as clean.mirror; to mirror a design, start again from the scan".into();
        return Err(("placement.mirrored".into(), placement.mirrored.to_string(), allowed));
    }
    Ok(())
}
