//! Text STL: any case, any white space, several solids in one file.

use super::echo::shown;
use super::error::ReadError;
use super::faces::{Counted, Faces, require_triangle};
use super::number::{Number, number_f32};
use super::scan_file::{Format, ScanFile};
use super::weld_exact::weld_exact;
use crate::{Job, Mesh};
use nalgebra::Point3;
use std::ops::Range;

/// Words of a text file, with the line they stand on.
#[derive(Default)]
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
    let words = Words { bytes: bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes), at: 0, line: 1 };
    let mut text = Text { file, words, ..Text::default() };
    text.read(job)?;
    let Text { corners, facets, odd, empty_solids, in_solid, .. } = text;
    if corners.len() > (u32::MAX / 4) as usize {
        return Err(ReadError::TooLarge { file: file.into(), found: format!("{} corners", corners.len()) });
    }
    let mut warnings = Vec::new();
    if in_solid && !facets.is_empty() {
        warnings.push("the text ends without “endsolid”; it may have been cut off".into());
    }
    odd.say(|n| format!("{n} number(s) are followed by other characters, which were ignored"), &mut warnings);
    if !facets.is_empty() {
        empty_solids.say(|n| format!("{n} solid(s) without any triangle"), &mut warnings);
    }

    job.step("joining corners", 0.8)?;
    let mut index = vec![0; corners.len()];
    let points = weld_exact(&mut index, |i| corners[i], job)?;
    let mut faces = Faces::default();
    let mut many_corners = Counted::default();
    for Facet { corners, line } in &facets {
        let place = || format!("line {line}");
        if corners.len() > 3 {
            many_corners.add(place);
        }
        faces.add(&points, &index[corners.clone()], place, |_| {});
    }
    many_corners.say(|n| format!("{n} facet(s) with more than three corners were cut into triangles"), &mut warnings);
    faces.say(&mut warnings);
    let mesh = Mesh::new(points, faces.triangles);
    require_triangle(&mesh, file, || format!("a text STL with {} facet(s)", facets.len()))?;
    Ok(ScanFile { mesh, format: Format::StlAscii, texture: None, warnings })
}

/// The corners of one facet, and the line on which it ends.
struct Facet {
    corners: Range<usize>,
    line: usize,
}

/// What the words have said so far.
#[derive(Default)]
struct Text<'a> {
    file: &'a str,
    words: Words<'a>,
    corners: Vec<[f32; 3]>,
    facets: Vec<Facet>,
    /// Where the corners of the unfinished facet begin.
    open: Option<usize>,
    /// Numbers with something stuck to their end.
    odd: Counted,
    empty_solids: Counted,
    in_solid: bool,
    facets_in_solid: usize,
}

impl Text<'_> {
    fn read(&mut self, job: &Job) -> Result<(), ReadError> {
        while let Some(word) = self.words.next() {
            let line = self.words.line;
            let is = |name: &[u8]| word.eq_ignore_ascii_case(name);
            if is(b"vertex") {
                let corner = self.corner(line)?;
                self.open.get_or_insert(self.corners.len());
                self.corners.push(corner);
            } else if is(b"facet") {
                self.end_facet(line);
                self.facets_in_solid += 1;
                if self.facets.len().is_multiple_of(8192) {
                    let share = self.words.at as f32 / self.words.bytes.len().max(1) as f32;
                    job.step("reading triangles", 0.8 * share)?;
                }
            } else if is(b"endloop") || is(b"endfacet") {
                self.end_facet(line);
            } else if is(b"normal") {
                // Three words that may be anything: the normal follows from the corners.
                for _ in 0..3 {
                    self.words.next();
                }
            } else if is(b"solid") || is(b"endsolid") {
                self.end_solid(is(b"solid"), line);
                self.words.skip_line();
            } else if is(b"color") || word.starts_with(b"#") || word.starts_with(b";") {
                self.words.skip_line();
            } else if !(is(b"outer") || is(b"loop")) {
                let what = format!("“{}” is not a word of a text STL. Export the scan again", shown(word));
                let place = format!("line {line}");
                return Err(ReadError::Malformed { file: self.file.into(), place, what });
            }
        }
        self.end_facet(self.words.line);
        Ok(())
    }

    /// The three numbers after the word “vertex”, which stands on `line`.
    fn corner(&mut self, line: usize) -> Result<[f32; 3], ReadError> {
        let mut point = [0.0; 3];
        for value in &mut point {
            let Some(token) = self.words.next() else {
                let what = format!("the last corner, on line {line}, is not complete");
                return Err(ReadError::CutOff { file: self.file.into(), what });
            };
            *value = match number_f32(token) {
                Number::Whole(v) => v,
                Number::Front(v) => {
                    self.odd.add(|| format!("line {line}"));
                    v
                }
                Number::None => return Err(not_a_number(self.file, self.words.line, token)),
            };
        }
        if !point.iter().all(|v| v.is_finite()) {
            return Err(ReadError::NotFinite { file: self.file.into(), place: format!("line {line}") });
        }
        Ok(point)
    }

    fn end_facet(&mut self, line: usize) {
        if let Some(start) = self.open.take() {
            self.facets.push(Facet { corners: start..self.corners.len(), line });
        }
    }

    fn end_solid(&mut self, another_begins: bool, line: usize) {
        if !another_begins || self.in_solid {
            if self.facets_in_solid == 0 {
                self.empty_solids.add(|| format!("line {line}"));
            }
            self.facets_in_solid = 0;
        }
        self.in_solid = another_begins;
    }
}

pub(super) fn not_a_number(file: &str, line: usize, token: &[u8]) -> ReadError {
    let comma = if token.contains(&b',') { " (a decimal comma? Numbers need a point)" } else { "" };
    let what = format!("“{}” is not a number{comma}. Export the scan again", shown(token));
    ReadError::Malformed { file: file.into(), place: format!("line {line}"), what }
}

/// Whether a face may use the point: its coordinates are all finite.
pub(super) fn is_finite(point: &Point3<f32>) -> bool {
    point.coords.iter().all(|v| v.is_finite())
}
