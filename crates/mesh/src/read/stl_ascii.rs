//! Text STL: any case, any white space, several solids in one file.

use super::error::ReadError;
use super::faces::{Counted, Faces, require_triangle};
use super::number::{Number, number_f32};
use super::scan_file::{Format, ScanFile};
use super::weld_exact::weld_exact;
use crate::{Job, Mesh};
use nalgebra::Point3;

/// Words of a text file, with the line they stand on.
struct Words<'a> {
    bytes: &'a [u8],
    at: usize,
    line: usize,
}

impl<'a> Words<'a> {
    fn next(&mut self) -> Option<&'a [u8]> {
        while let Some(b) = self.bytes.get(self.at).filter(|b| b.is_ascii_whitespace()) {
            self.line += usize::from(*b == b'\n' || (*b == b'\r' && self.bytes.get(self.at + 1) != Some(&b'\n')));
            self.at += 1;
        }
        let start = self.at;
        let length = self.bytes[start..].iter().take_while(|b| !b.is_ascii_whitespace()).count();
        self.at += length;
        (length > 0).then(|| &self.bytes[start..self.at])
    }

    fn skip_line(&mut self) {
        self.at += self.bytes[self.at..].iter().take_while(|b| !matches!(b, b'\n' | b'\r')).count();
    }
}

/// Reads a text STL and joins corners that are equal to the bit.
pub(super) fn read(bytes: &[u8], file: &str, job: &Job) -> Result<ScanFile, ReadError> {
    let mut words = Words { bytes: bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes), at: 0, line: 1 };
    let mut corners: Vec<[f32; 3]> = Vec::new();
    // Where the open facet's corners begin; facets that are not triangles go through `Faces`.
    let mut open: Option<usize> = None;
    let mut polygons: Vec<(usize, usize, usize)> = Vec::new();
    let mut odd = Counted::default();
    let mut in_solid = false;
    let mut facets_in_solid = 0_usize;
    let mut empty_solids = Counted::default();
    let mut warnings = Vec::new();

    while let Some(word) = words.next() {
        let line = words.line;
        let is = |name: &[u8]| word.eq_ignore_ascii_case(name);
        if is(b"vertex") {
            let mut point = [0.0; 3];
            for value in &mut point {
                let Some(token) = words.next() else {
                    let what = format!("the last corner, on line {line}, is not complete");
                    return Err(ReadError::CutOff { file: file.into(), what });
                };
                *value = match number_f32(token) {
                    Number::Whole(v) => v,
                    Number::Front(v) => {
                        odd.add(|| format!("line {line}"));
                        v
                    }
                    Number::None => return Err(not_a_number(file, words.line, token)),
                };
            }
            if !point.iter().all(|v| v.is_finite()) {
                return Err(ReadError::NotFinite { file: file.into(), place: format!("line {line}") });
            }
            open.get_or_insert(corners.len());
            corners.push(point);
        } else if is(b"facet") {
            if let Some(start) = open.take() {
                polygons.push((start, corners.len(), line));
            }
            facets_in_solid += 1;
            if polygons.len().is_multiple_of(65_536) {
                job.step("reading triangles", 0.8 * words.at as f32 / bytes.len().max(1) as f32)?;
            }
        } else if is(b"endloop") || is(b"endfacet") {
            if let Some(start) = open.take() {
                polygons.push((start, corners.len(), line));
            }
        } else if is(b"normal") {
            // Three words that may be anything: the normal follows from the corners.
            for _ in 0..3 {
                words.next();
            }
        } else if is(b"solid") || is(b"endsolid") {
            if is(b"endsolid") || in_solid {
                if facets_in_solid == 0 {
                    empty_solids.add(|| format!("line {line}"));
                }
                facets_in_solid = 0;
            }
            in_solid = is(b"solid");
            words.skip_line();
        } else if is(b"color") || word.starts_with(b"#") || word.starts_with(b";") {
            words.skip_line();
        } else if !(is(b"outer") || is(b"loop")) {
            let what = format!("“{}” is not a word of a text STL. Export the scan again", shown(word));
            return Err(ReadError::Malformed { file: file.into(), place: format!("line {line}"), what });
        }
    }
    if let Some(start) = open.take() {
        polygons.push((start, corners.len(), words.line));
    }
    if in_solid && !polygons.is_empty() {
        warnings.push("the text ends without “endsolid”; it may have been cut off".into());
    }
    if corners.len() > (u32::MAX / 4) as usize {
        return Err(ReadError::TooLarge { file: file.into(), found: format!("{} corners", corners.len()) });
    }
    odd.say(|n| format!("{n} number(s) have something else stuck to their end, which was left out"), &mut warnings);
    if !polygons.is_empty() {
        empty_solids.say(|n| format!("{n} solid(s) without any triangle"), &mut warnings);
    }

    job.step("joining corners", 0.8)?;
    let mut index = vec![0; corners.len()];
    let points = weld_exact(&mut index, |i| corners[i]);
    let mut faces = Faces::default();
    let mut many_corners = Counted::default();
    for (start, end, line) in &polygons {
        if end - start > 3 {
            many_corners.add(|| format!("line {line}"));
        }
        faces.add(&points, &index[*start..*end], || format!("line {line}"), |_| {});
    }
    many_corners.say(|n| format!("{n} facet(s) with more than three corners were cut into triangles"), &mut warnings);
    faces.say(&mut warnings);
    let mesh = Mesh::new(points, faces.triangles);
    require_triangle(&mesh, file, || format!("a text STL with {} facet(s)", polygons.len()))?;
    Ok(ScanFile { mesh, format: Format::StlAscii, texture: None, warnings })
}

pub(super) fn not_a_number(file: &str, line: usize, token: &[u8]) -> ReadError {
    let comma = if token.contains(&b',') { " (a decimal comma? Numbers need a point)" } else { "" };
    let what = format!("“{}” is not a number{comma}. Export the scan again", shown(token));
    ReadError::Malformed { file: file.into(), place: format!("line {line}"), what }
}

/// A word of the file, safe to print.
pub(super) fn shown(word: &[u8]) -> String {
    let text: String =
        String::from_utf8_lossy(word.get(..40).unwrap_or(word)).chars().filter(|c| !c.is_control()).collect();
    if word.len() > 40 { format!("{text}…") } else { text }
}

/// The finite points that a face may use.
pub(super) fn is_finite(point: &Point3<f32>) -> bool {
    point.coords.iter().all(|v| v.is_finite())
}
