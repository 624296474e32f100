//! Formats that turn up in a scan folder but are not read here, so that the refusal can name them.

use super::error::CAN_OPEN;

/// A format that is known by name only.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Foreign {
    /// In words, with the article.
    pub format: String,
    /// What to do about it.
    pub advice: String,
}

impl Foreign {
    fn mesh(format: &str) -> Self {
        Self { format: format.into(), advice: CAN_OPEN.into() }
    }

    fn packed(format: &str) -> Self {
        Self { format: format.into(), advice: "unpack it and open the STL, OBJ or PLY inside".into() }
    }

    fn picture(format: &str) -> Self {
        Self { format: format.into(), advice: format!("it is a picture without a surface; {CAN_OPEN}") }
    }
}

type Make = fn(&str) -> Foreign;

/// First bytes, the format's name, and the kind of thing it is.
const SIGNATURES: [(&[u8], &str, Make); 27] = [
    (b"\x1f\x8b", "a gzip archive", Foreign::packed),
    (b"BZh", "a bzip2 archive", Foreign::packed),
    (b"\xfd7zXZ\0", "an xz archive", Foreign::packed),
    (b"7z\xbc\xaf\x27\x1c", "a 7-Zip archive", Foreign::packed),
    (b"Rar!\x1a\x07", "a RAR archive", Foreign::packed),
    (b"\x28\xb5\x2f\xfd", "a Zstandard archive", Foreign::packed),
    (b"glTF", "a binary glTF file (GLB)", Foreign::mesh),
    (b"Kaydara FBX Binary", "an FBX file", Foreign::mesh),
    (b"; FBX", "an FBX file", Foreign::mesh),
    (b"ISO-10303-21", "a STEP file", Foreign::mesh),
    (b"3D Geometry File Format", "a 3DM file", Foreign::mesh),
    (b"#VRML", "a VRML file", Foreign::mesh),
    (b"#X3D", "an X3D file", Foreign::mesh),
    (b"#usda", "a USD file", Foreign::mesh),
    (b"PXR-USDC", "a USD file", Foreign::mesh),
    (b"ASTM-E57", "an E57 point cloud", Foreign::mesh),
    (b"LASF", "a LAS point cloud", Foreign::mesh),
    (b"# .PCD", "a PCD point cloud", Foreign::mesh),
    (b"\x89PNG", "a PNG picture", Foreign::picture),
    (b"\xff\xd8\xff", "a JPEG picture", Foreign::picture),
    (b"GIF8", "a GIF picture", Foreign::picture),
    (b"II*\0", "a TIFF picture", Foreign::picture),
    (b"MM\0*", "a TIFF picture", Foreign::picture),
    (b"%PDF", "a PDF document", Foreign::mesh),
    (b"{\\rtf", "an RTF document", Foreign::mesh),
    (b"\x7fELF", "a program", Foreign::mesh),
    (b"SQLite format 3", "a database", Foreign::mesh),
];

/// Formats with a signature in their first bytes.
pub(super) fn by_signature(bytes: &[u8]) -> Option<Foreign> {
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"PK\x05\x06") {
        return Some(zip(bytes));
    }
    if [&b"\xfe\xff"[..], b"\xff\xfe", b"\0v\0", b"v\0 \0", b"#\0 \0", b"\0#\0"].iter().any(|b| bytes.starts_with(b)) {
        return Some(Foreign {
            format: "text in UTF-16".into(),
            advice: "save it as UTF-8 or plain ASCII text, or export it again".into(),
        });
    }
    if bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
        return Some(Foreign::picture("a WebP picture"));
    }
    SIGNATURES.iter().find(|(start, ..)| bytes.starts_with(start)).map(|(_, name, make)| make(name))
}

/// Formats that are text, known by their first words; `text` starts at the first character that is not blank.
pub(super) fn by_text(text: &[u8]) -> Option<Foreign> {
    let head: String = String::from_utf8_lossy(text.get(..4096).unwrap_or(text)).to_ascii_lowercase();
    let first_words: Vec<&str> =
        head.lines().map(str::trim).filter(|l| !l.is_empty() && !l.starts_with('#')).take(2).collect();
    let first = first_words.first().copied().unwrap_or_default();
    let word = first.split_whitespace().next().unwrap_or_default();
    // Some writers leave no blank between the word and the first count.
    let word = word.trim_end_matches(|c: char| c.is_ascii_digit());
    if ["off", "coff", "noff", "cnoff", "stoff", "4off"].contains(&word) {
        return Some(Foreign::mesh("an OFF file"));
    }
    if first == "0" && first_words.get(1) == Some(&"section") {
        return Some(Foreign::mesh("a DXF drawing"));
    }
    if head.starts_with('<') {
        for (sign, name) in [
            ("<collada", "a COLLADA file"),
            ("<x3d", "an X3D file"),
            ("<amf", "an AMF file"),
            ("<model", "the model part of a 3MF file"),
            ("<html", "a web page (the download did not give the scan itself)"),
            ("<svg", "an SVG drawing"),
        ] {
            if head.contains(sign) {
                return Some(Foreign::mesh(name));
            }
        }
        return Some(Foreign::mesh("an XML file"));
    }
    if head.starts_with('{') && head.contains("\"asset\"") {
        return Some(Foreign::mesh("a glTF file"));
    }
    None
}

/// True where the first lines are nothing but three or more numbers each.
pub(super) fn is_rows_of_numbers(text: &[u8]) -> bool {
    let head = String::from_utf8_lossy(text.get(..2048).unwrap_or(text));
    let mut rows = head.lines().filter(|l| !l.trim().is_empty()).take(3).peekable();
    let is_row = |line: &str| {
        let mut tokens = line.split(|c: char| c.is_whitespace() || c == ',' || c == ';').filter(|t| !t.is_empty());
        tokens.clone().count() >= 3 && tokens.all(|t| t.parse::<f64>().is_ok())
    };
    rows.peek().is_some() && rows.all(is_row)
}

/// Bare rows of numbers.
pub(super) fn point_rows() -> Foreign {
    Foreign::mesh("a list of points (XYZ)")
}

/// Names a zip by the names of its entries, which stand uncompressed in their headers.
fn zip(bytes: &[u8]) -> Foreign {
    let names = zip_names(bytes);
    let has = |part: &str| names.iter().any(|n| n.starts_with(part));
    if has("[Content_Types].xml") && has("3D/") {
        return Foreign::mesh("a 3MF file");
    }
    if names.iter().any(|n| n.to_ascii_lowercase().ends_with(".usdc") || n.to_ascii_lowercase().ends_with(".usda")) {
        return Foreign::mesh("a USDZ file");
    }
    if has("[Content_Types].xml") {
        return Foreign::mesh("an office document");
    }
    let scan = names.iter().find(|n| {
        [".stl", ".obj", ".ply"].iter().any(|e| n.to_ascii_lowercase().ends_with(e)) && !n.starts_with("__MACOSX")
    });
    match scan {
        Some(name) => {
            let name: String = name.chars().filter(|c| !c.is_control()).take(80).collect();
            Foreign { format: "a zip archive".into(), advice: format!("unpack it and open {name} from it") }
        }
        None => Foreign::packed("a zip archive"),
    }
}

fn zip_names(bytes: &[u8]) -> Vec<String> {
    let mut names = Vec::new();
    let mut at = 0;
    while let Some(window) = bytes.get(at..at + 46)
        && names.len() < 10_000
    {
        // Local header: name length at 26, name at 30. Central directory: at 28 and 46.
        let place = match window.first_chunk::<4>() {
            Some(b"PK\x03\x04") => Some((26, 30)),
            Some(b"PK\x01\x02") => Some((28, 46)),
            _ => None,
        };
        if let Some((length_at, name_at)) = place {
            let length = usize::from(u16::from_le_bytes([window[length_at], window[length_at + 1]]));
            if let Some(name) = bytes.get(at + name_at..at + name_at + length) {
                names.push(String::from_utf8_lossy(name).into_owned());
            }
        }
        at += 1;
    }
    names
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formats_are_named() {
        let name = |bytes: &[u8]| by_signature(bytes).or_else(|| by_text(bytes)).map(|f| f.format);
        assert_eq!(name(b"OFF\n3 1 0").as_deref(), Some("an OFF file"));
        assert_eq!(name(b"# x\nCOFF\n").as_deref(), Some("an OFF file"));
        assert_eq!(name(b"0\r\nSECTION\r\n").as_deref(), Some("a DXF drawing"));
        assert_eq!(name(b"%PDF-1.7").as_deref(), Some("a PDF document"));
        assert_eq!(name(b"\xfe\xff\0v\0 ").as_deref(), Some("text in UTF-16"));
        assert_eq!(name(b"<?xml version='1.0'?><COLLADA>").as_deref(), Some("a COLLADA file"));
        assert_eq!(name(b"hello"), None);
    }
}
