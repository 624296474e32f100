//! Reading and writing design files.

use std::path::Path;

use plain_json::Slip;
use serde_json::Value;

use shell::limits;

use crate::field_place::place_of;
use crate::{DesignFile, KeptFile, LockerError, MOST_SQUAD_NUMBER, VERSION, compact_json};

/// Largest design file that is read, MB: room for a scan of some million triangles in base64.
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
    let text = plain_json::text(&bytes).map_err(|slip| malformed(&name, slip))?;
    parse_design(text, &name)
}

/// Reads and checks the text of a design file; `name` is used in messages.
///
/// # Errors
/// As [`load_design`].
pub fn parse_design(text: &str, name: &str) -> Result<DesignFile, LockerError> {
    // A byte order mark is not part of the text.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    check_version(text, name)?;
    let design = up_to_date(plain_json::read(text).map_err(|slip| malformed(name, slip))?);
    check(&design).map_err(|(field, value, allowed)| {
        let (line, column) = place_of(text, &field);
        let value = plain_json::number(&value);
        LockerError::OutOfRange { name: name.into(), line, column, field, value, allowed }
    })?;
    Ok(design)
}

/// A design of an older version as the newest has it.
fn up_to_date(design: DesignFile) -> DesignFile {
    let mut design = design;
    if design.pauldron_design < 2 {
        // Version 1 let walls be thinner than prints soundly, and rims be lifted more steeply than can be made.
        let thin = 0.8..limits::THICKNESS.least;
        if thin.contains(&design.shell.thickness_mm) {
            design.shell.thickness_mm = limits::THICKNESS.least;
        }
        let rim = &mut design.shell.rim;
        let least = limits::least_flare_width_mm(limits::FLARE.clamp(rim.flare_mm));
        if limits::FLARE_WIDTH.allows(rim.flare_width_mm) {
            rim.flare_width_mm = rim.flare_width_mm.max(least);
        }
        design.pauldron_design = VERSION;
    }
    design
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
    compact_json::to_text(design).map_err(|e| LockerError::Malformed {
        name: name.into(),
        line: 0,
        column: 0,
        field: "the design".into(),
        why: e.to_string(),
    })
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
    let value: Value = plain_json::read(text).map_err(|slip| malformed(name, slip))?;
    match value.get("pauldron_design") {
        Some(Value::Number(n)) if n.as_u64().is_some_and(|v| (1..=VERSION).contains(&v)) => Ok(()),
        Some(Value::Number(n)) if n.as_u64().is_some_and(|v| v > VERSION) => {
            Err(LockerError::Newer { name: name.into(), version: n.as_u64().unwrap_or(u64::MAX), known: VERSION })
        }
        other => {
            let found = match other {
                None => "missing".into(),
                Some(Value::Number(n)) => plain_json::number(&n.to_string()),
                Some(other) => plain_json::short(&other.to_string()),
            };
            Err(LockerError::NotADesign { name: name.into(), found })
        }
    }
}

fn malformed(name: &str, slip: Slip) -> LockerError {
    let Slip { line, column, field, why } = slip;
    LockerError::Malformed { name: name.into(), line, column, field, why }
}

/// Field, value and what is allowed.
pub(crate) type Wrong = (String, String, String);

/// Field, value and what is allowed, for the first value out of its range.
fn check(design: &DesignFile) -> Result<(), Wrong> {
    let wrong = |field: &str, value: String, allowed: &str| Err((field.to_owned(), value, allowed.to_owned()));
    if design.title.chars().count() > LONGEST_TITLE || design.title.chars().any(char::is_control) {
        let allowed = format!("at most {LONGEST_TITLE} characters on one line");
        return wrong("title", format!("“{}”", plain_json::short(&design.title)), &allowed);
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
    design.strength.check()?;
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
    let value = format!("“{}”", plain_json::short(&file.sha256));
    Err((format!("{path}.sha256"), value, "64 lower-case hexadecimal digits".to_owned()))
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
        return Err(("placement.pose.rotation".into(), numbers(turn.as_slice()), allowed));
    }
    let shift = placement.pose.translation.vector;
    if !shift.iter().all(|x| (-1e7..=1e7).contains(x)) {
        let allowed = "three numbers between −10000000 and 10000000 mm".into();
        return Err(("placement.pose.translation".into(), numbers(shift.as_slice()), allowed));
    }
    if placement.mirrored != design.clean.mirror {
        let allowed = "the same as clean.mirror; to mirror a design, start again from the scan".into();
        return Err(("placement.mirrored".into(), placement.mirrored.to_string(), allowed));
    }
    Ok(())
}

fn numbers(values: &[f64]) -> String {
    let shown: Vec<String> = values.iter().map(|value| plain_json::number(&value.to_string())).collect();
    shown.join(", ")
}
