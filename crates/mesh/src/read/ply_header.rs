//! The head of a PLY file: which elements follow, with which properties, in which encoding.

use super::echo::shown;
use super::error::ReadError;
use super::scan_file::Format;

/// How a number is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Scalar {
    I8,
    U8,
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

impl Scalar {
    fn named(name: &str) -> Option<Self> {
        Some(match name {
            "char" | "int8" => Self::I8,
            "uchar" | "uint8" => Self::U8,
            "short" | "int16" => Self::I16,
            "ushort" | "uint16" => Self::U16,
            "int" | "int32" => Self::I32,
            "uint" | "uint32" => Self::U32,
            "float" | "float32" => Self::F32,
            "double" | "float64" => Self::F64,
            _ => return None,
        })
    }

    /// Bytes in a binary file.
    pub(super) fn size(self) -> usize {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::I32 | Self::U32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }
}

/// One property of an element.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Property {
    pub name: String,
    pub value: Scalar,
    /// Set for a list: how its length is stored.
    pub length: Option<Scalar>,
}

/// One element: the number of rows and the properties of each.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Element {
    pub name: String,
    pub count: u64,
    pub properties: Vec<Property>,
}

impl Element {
    /// Place of the first property with one of these names.
    pub(super) fn find(&self, names: &[&str]) -> Option<usize> {
        self.properties.iter().position(|p| names.contains(&p.name.as_str()))
    }

    /// Fewest bytes a row can take: lists empty, numbers of one digit in text.
    pub(super) fn least_row_bytes(&self, ascii: bool) -> u64 {
        let size = |p: &Property| if ascii { 2 } else { p.length.unwrap_or(p.value).size() as u64 };
        self.properties.iter().map(size).sum()
    }
}

/// A whole head.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Header {
    pub format: Format,
    pub elements: Vec<Element>,
    /// Name of the picture, where a comment gives one.
    pub texture: Option<String>,
    /// Where the rows begin.
    pub body: usize,
    /// How many lines the head takes.
    pub lines: usize,
}

/// A longer head is rejected, bytes.
const LONGEST: usize = 1 << 20;

/// Reads the head of a PLY file.
pub(super) fn read(bytes: &[u8], file: &str) -> Result<Header, ReadError> {
    let mut at = bytes.len() - super::recognise::skip_blank(bytes).len();
    let mut lines = Lines { file, number: 0, format: None, elements: Vec::new(), texture: None };
    loop {
        let rest = bytes.get(at..(at + LONGEST).min(bytes.len())).unwrap_or_default();
        if rest.is_empty() || at > LONGEST {
            let what = "its header has no “end_header” line".into();
            return Err(ReadError::CutOff { file: file.into(), what });
        }
        let length = rest.iter().position(|b| matches!(b, b'\n' | b'\r')).unwrap_or(rest.len());
        at += length;
        // One line end only: the first byte of the rows may look like another.
        at += if rest[length..].starts_with(b"\r\n") { 2 } else { usize::from(length < rest.len()) };
        if lines.take(&rest[..length])? {
            break;
        }
    }
    let Some(format) = lines.format else { return Err(lines.malformed("the header has no “format” line".into())) };
    Ok(Header { format, elements: lines.elements, texture: lines.texture, body: at, lines: lines.number })
}

/// What the lines of a head have said so far.
struct Lines<'a> {
    file: &'a str,
    number: usize,
    format: Option<Format>,
    elements: Vec<Element>,
    texture: Option<String>,
}

impl Lines<'_> {
    fn malformed(&self, what: String) -> ReadError {
        ReadError::Malformed {
            file: self.file.into(),
            place: format!("line {}", self.number),
            what: format!("{what}. Export the scan again"),
        }
    }

    /// Takes the next line; true when it ends the head.
    fn take(&mut self, line: &[u8]) -> Result<bool, ReadError> {
        self.number += 1;
        let text = String::from_utf8_lossy(line);
        let words: Vec<&str> = text.split_ascii_whitespace().collect();
        match words.as_slice() {
            [] | ["ply" | "PLY"] | ["obj_info", ..] => {}
            ["comment", rest @ ..] => {
                if let ["TextureFile", name @ ..] = rest
                    && !name.is_empty()
                {
                    self.texture.get_or_insert_with(|| name.join(" "));
                }
            }
            ["format", coding, _version] => {
                self.format = Some(match *coding {
                    "ascii" => Format::PlyAscii,
                    "binary_little_endian" => Format::PlyLittleEndian,
                    "binary_big_endian" => Format::PlyBigEndian,
                    _ => return Err(self.malformed(format!("“{}” is not a PLY encoding", shown(coding.as_bytes())))),
                });
            }
            ["element", name, count] => {
                let Ok(count) = count.parse() else {
                    return Err(self.malformed(format!("“{}” is not a number of rows", shown(count.as_bytes()))));
                };
                self.elements.push(Element { name: (*name).into(), count, properties: Vec::new() });
            }
            ["property", rest @ ..] => {
                let property = self.property(rest)?;
                match self.elements.last_mut() {
                    Some(element) => element.properties.push(property),
                    None => return Err(self.malformed("a property stands before any element".into())),
                }
            }
            ["end_header"] => return Ok(true),
            _ => return Err(self.malformed(format!("“{}” does not belong in a PLY header", shown(line)))),
        }
        Ok(false)
    }

    fn property(&self, words: &[&str]) -> Result<Property, ReadError> {
        let scalar = |name: &str| {
            Scalar::named(name)
                .ok_or_else(|| self.malformed(format!("“{}” is not a PLY number type", shown(name.as_bytes()))))
        };
        match words {
            ["list", length, value, name] => {
                let length = scalar(length)?;
                if matches!(length, Scalar::F32 | Scalar::F64) {
                    return Err(self.malformed("a list length cannot be a fraction".into()));
                }
                Ok(Property { name: (*name).into(), value: scalar(value)?, length: Some(length) })
            }
            [value, name] => Ok(Property { name: (*name).into(), value: scalar(value)?, length: None }),
            _ => Err(self.malformed("a property needs a type and a name".into())),
        }
    }
}
