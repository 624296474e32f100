//! The rows of a PLY file, one number after the other, in any of its three encodings.

use super::echo::{fewer_than_said, shown, shown_number};
use super::error::ReadError;
use super::number::{Number, number_f64};
use super::ply_header::{Element, Property, Scalar};
use super::scan_file::Format;
use super::stl_ascii::not_a_number;

/// How many rows of an element the header says.
fn said_rows(element: &Element) -> String {
    let rows = if element.count == 1 { "row" } else { "rows" };
    format!("{} {rows} of “{}”", shown_number(element.count as f64), shown(element.name.as_bytes()))
}

/// Walks over the rows after the header.
pub(super) struct Rows<'a> {
    bytes: &'a [u8],
    format: Format,
    file: &'a str,
    /// Rest of the current line of a text file.
    line: &'a [u8],
    line_number: usize,
    /// Rows of a text file that go on after their last property.
    pub overlong: usize,
    /// Numbers of a text file with something stuck to their end.
    pub odd: usize,
}

/// Where the values of one row went.
pub(super) struct Row {
    /// All values that were asked for.
    pub values: Vec<f64>,
    /// For each property, where its values lie.
    pub spans: Vec<std::ops::Range<usize>>,
}

impl Row {
    pub(super) fn new() -> Self {
        Self { values: Vec::new(), spans: Vec::new() }
    }

    /// The values of property `p`.
    pub(super) fn of(&self, p: usize) -> &[f64] {
        &self.values[self.spans[p].clone()]
    }
}

impl<'a> Rows<'a> {
    pub(super) fn new(bytes: &'a [u8], format: Format, file: &'a str, head_lines: usize) -> Self {
        Self { bytes, format, file, line: &[], line_number: head_lines, overlong: 0, odd: 0 }
    }

    fn ascii(&self) -> bool {
        self.format == Format::PlyAscii
    }

    /// Bytes not read yet.
    pub(super) fn left(&self) -> usize {
        if self.ascii() { self.bytes.trim_ascii().len() } else { self.bytes.len() }
    }

    /// Refuses a count that the bytes cannot hold, before memory is reserved for it.
    pub(super) fn check_count(&self, element: &Element) -> Result<(), ReadError> {
        let least = element.least_row_bytes(self.ascii());
        // The very last row of a text needs no line end.
        let held = self.bytes.len() as u64 + u64::from(self.ascii());
        if element.count.checked_mul(least).is_none_or(|needed| needed > held) {
            let what = format!(
                "its header says {}, more than the {} bytes after it can hold",
                said_rows(element),
                self.bytes.len()
            );
            return Err(ReadError::CutOff { file: self.file.into(), what });
        }
        Ok(())
    }

    /// Line of a text file that was read last.
    pub(super) fn line_number(&self) -> usize {
        self.line_number
    }

    /// What this row is called in a sentence.
    pub(super) fn place(&self, element: &Element, row: u64) -> String {
        if self.ascii() {
            format!("line {}", self.line_number)
        } else {
            format!("{} {}", shown(element.name.as_bytes()), row + 1)
        }
    }

    /// Reads one row; lists are kept only where `keep` says so.
    pub(super) fn read(
        &mut self,
        element: &Element,
        row: u64,
        keep: impl Fn(usize) -> bool,
        out: &mut Row,
    ) -> Result<(), ReadError> {
        out.values.clear();
        out.spans.clear();
        if self.ascii() {
            self.next_line(element, row)?;
        }
        for (p, property) in element.properties.iter().enumerate() {
            let start = out.values.len();
            match property.length {
                None => {
                    let value = self.value(property.value, element, row)?;
                    out.values.push(value);
                }
                Some(length) => self.list(property, length, element, row, keep(p).then_some(&mut out.values))?,
            }
            out.spans.push(start..out.values.len());
        }
        if self.ascii() && !self.line.trim_ascii().is_empty() {
            self.overlong += 1;
        }
        Ok(())
    }

    fn list(
        &mut self,
        property: &Property,
        length: Scalar,
        element: &Element,
        row: u64,
        mut keep: Option<&mut Vec<f64>>,
    ) -> Result<(), ReadError> {
        let length = self.value(length, element, row)?;
        let held = if self.ascii() { self.line.len() / 2 } else { self.bytes.len() / property.value.size() };
        if !(0.0..=held as f64).contains(&length) || length.fract() != 0.0 {
            return Err(ReadError::Malformed {
                file: self.file.into(),
                place: self.place(element, row),
                what: format!(
                    "the list “{}” cannot have {} entries: the rest of the file is shorter, so it is damaged or was cut off. Export the scan again",
                    shown(property.name.as_bytes()),
                    shown_number(length)
                ),
            });
        }
        let length = length as usize;
        if keep.is_none() && !self.ascii() {
            self.bytes = &self.bytes[length * property.value.size()..];
            return Ok(());
        }
        for _ in 0..length {
            let value = self.value(property.value, element, row)?;
            if let Some(values) = &mut keep {
                values.push(value);
            }
        }
        Ok(())
    }

    fn next_line(&mut self, element: &Element, row: u64) -> Result<(), ReadError> {
        loop {
            if self.bytes.is_empty() {
                return Err(self.cut_off(element, row));
            }
            let length = self.bytes.iter().position(|b| matches!(b, b'\n' | b'\r')).unwrap_or(self.bytes.len());
            self.line = &self.bytes[..length];
            let rest = &self.bytes[length..];
            let end = if rest.starts_with(b"\r\n") { 2 } else { usize::from(!rest.is_empty()) };
            self.bytes = &rest[end..];
            self.line_number += 1;
            if !self.line.trim_ascii().is_empty() {
                return Ok(());
            }
        }
    }

    fn cut_off(&self, element: &Element, row: u64) -> ReadError {
        ReadError::CutOff { file: self.file.into(), what: fewer_than_said(&said_rows(element), row) }
    }

    fn value(&mut self, scalar: Scalar, element: &Element, row: u64) -> Result<f64, ReadError> {
        if self.ascii() {
            return self.text_value(element, row);
        }
        let big = self.format == Format::PlyBigEndian;
        macro_rules! take {
            ($number:ty) => {{
                let Some((raw, rest)) = self.bytes.split_first_chunk() else { return Err(self.cut_off(element, row)) };
                self.bytes = rest;
                f64::from(if big { <$number>::from_be_bytes(*raw) } else { <$number>::from_le_bytes(*raw) })
            }};
        }
        Ok(match scalar {
            Scalar::I8 => take!(i8),
            Scalar::U8 => take!(u8),
            Scalar::I16 => take!(i16),
            Scalar::U16 => take!(u16),
            Scalar::I32 => take!(i32),
            Scalar::U32 => take!(u32),
            Scalar::F32 => take!(f32),
            Scalar::F64 => take!(f64),
        })
    }

    fn text_value(&mut self, element: &Element, row: u64) -> Result<f64, ReadError> {
        let line = self.line.trim_ascii_start();
        let length = line.iter().position(u8::is_ascii_whitespace).unwrap_or(line.len());
        let (token, rest) = line.split_at(length);
        self.line = rest;
        if token.is_empty() {
            return Err(ReadError::Malformed {
                file: self.file.into(),
                place: self.place(element, row),
                what: format!(
                    "a row of “{}” has too few numbers. Export the scan again",
                    shown(element.name.as_bytes())
                ),
            });
        }
        match number_f64(token) {
            Number::Whole(value) => Ok(value),
            Number::Front(value) => {
                self.odd += 1;
                Ok(value)
            }
            Number::None => Err(not_a_number(self.file, self.line_number, token)),
        }
    }
}
