//! Tells the format of a file from its bytes; its name is never asked.

use super::foreign::{self, Foreign};

/// What the bytes are.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Kind {
    /// Text STL.
    StlAscii,
    /// Binary STL.
    StlBinary,
    /// PLY of any kind; its header says which.
    Ply,
    /// Wavefront OBJ.
    Obj,
    /// Known, but not read here.
    Foreign(Foreign),
    /// Nothing known.
    Unknown,
}

/// Bytes before the first triangle of a binary STL: 80 of header, 4 of count.
pub(super) const STL_HEAD: usize = 84;
/// Bytes a triangle takes in a binary STL.
pub(super) const STL_TRIANGLE: usize = 50;

/// The triangle count that a binary STL of these bytes would announce.
pub(super) fn stl_count(bytes: &[u8]) -> Option<usize> {
    let count: [u8; 4] = bytes.get(80..STL_HEAD)?.try_into().ok()?;
    Some(u32::from_le_bytes(count) as usize)
}

/// Tells what `bytes` are.
pub(super) fn recognise(bytes: &[u8]) -> Kind {
    // The size of a binary STL follows from its count. No other format fulfils that by chance, so this
    // goes first: the 80 header bytes may say anything, "solid" and "ply" too.
    if let Some(count) = stl_count(bytes)
        && bytes.len() as u64 == STL_HEAD as u64 + STL_TRIANGLE as u64 * count as u64
    {
        return Kind::StlBinary;
    }
    if let Some(foreign) = foreign::by_signature(bytes) {
        return Kind::Foreign(foreign);
    }
    let text = skip_blank(bytes);
    if starts_with_word(text, b"ply") {
        return Kind::Ply;
    }
    let textual = !bytes.iter().take(4096).any(|b| *b == 0);
    if starts_with_word(text, b"solid") && textual {
        return Kind::StlAscii;
    }
    if looks_like_binary_stl(bytes) {
        return Kind::StlBinary;
    }
    if let Some(foreign) = foreign::by_text(text) {
        return Kind::Foreign(foreign);
    }
    if textual && looks_like_obj(text) {
        return Kind::Obj;
    }
    if textual && (starts_with_word(text, b"facet") || starts_with_word(text, b"color")) {
        return Kind::StlAscii;
    }
    if textual && foreign::is_rows_of_numbers(text) {
        return Kind::Foreign(foreign::point_rows());
    }
    Kind::Unknown
}

/// The bytes after a UTF-8 byte-order mark and white space.
pub(super) fn skip_blank(bytes: &[u8]) -> &[u8] {
    bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes).trim_ascii_start()
}

fn starts_with_word(text: &[u8], word: &[u8]) -> bool {
    text.get(..word.len()).is_some_and(|front| front.eq_ignore_ascii_case(word))
        && text.get(word.len()).is_none_or(u8::is_ascii_whitespace)
}

/// A binary STL whose size does not fit its count: cut off, padded, or with a count never filled in.
fn looks_like_binary_stl(bytes: &[u8]) -> bool {
    let Some(body) = bytes.get(STL_HEAD..) else { return false };
    if body.len() < STL_TRIANGLE || bytes.get(..STL_HEAD + STL_TRIANGLE).is_some_and(|b| !b.contains(&0)) {
        return false;
    }
    // Real triangles: unit (or zero) normals and coordinates of a size that some unit could explain.
    body.chunks_exact(STL_TRIANGLE).take(16).all(|triangle| {
        let values: Vec<f32> = triangle.as_chunks::<4>().0.iter().take(12).map(|b| f32::from_le_bytes(*b)).collect();
        let normal = values.iter().take(3).map(|v| v * v).sum::<f32>();
        let sane = |v: &f32| v.is_finite() && v.abs() < 1e7 && (*v == 0.0 || v.abs() > 1e-12);
        values.iter().all(sane) && (normal == 0.0 || (normal - 1.0).abs() < 0.1)
    })
}

const OBJ_WORDS: [&[u8]; 22] = [
    b"v", b"vt", b"vn", b"vp", b"vw", b"f", b"fo", b"l", b"p", b"o", b"g", b"s", b"mg", b"usemtl", b"mtllib",
    b"usemap", b"maplib", b"cstype", b"deg", b"curv", b"surf", b"bevel",
];

/// True for the first word of a line of an OBJ file.
pub(super) fn is_obj_word(word: &[u8]) -> bool {
    OBJ_WORDS.contains(&word)
}

fn looks_like_obj(text: &[u8]) -> bool {
    let mut known = 0_usize;
    let mut unknown = 0_usize;
    for line in text.split(|b| matches!(b, b'\n' | b'\r')).map(<[u8]>::trim_ascii).take(4000) {
        let Some(word) = line.split(u8::is_ascii_whitespace).next().filter(|w| !w.is_empty()) else { continue };
        if word.starts_with(b"#") {
            continue;
        }
        if is_obj_word(word) {
            known += 1
        } else {
            unknown += 1
        }
        if known + unknown >= 200 {
            break;
        }
    }
    known > unknown
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_binary_stl_is_known_by_its_size_whatever_its_header_says() {
        let mut bytes = b"solid ply PK\x03\x04 %PDF".to_vec();
        bytes.resize(80, b' ');
        bytes.extend(2_u32.to_le_bytes());
        bytes.resize(84 + 100, 7);
        assert_eq!(recognise(&bytes), Kind::StlBinary);
    }

    #[test]
    fn text_formats_by_their_first_words() {
        assert_eq!(recognise(b"\xef\xbb\xbf \r\nSOLID x\nfacet"), Kind::StlAscii);
        assert_eq!(recognise(b"ply\r\nformat"), Kind::Ply);
        assert_eq!(recognise(b"# made by\nv 0 0 0\nf 1 2 3"), Kind::Obj);
        assert_eq!(recognise(b"plywood is not a mesh"), Kind::Unknown);
        assert_eq!(recognise(b"# only\n# comments\n"), Kind::Unknown);
        assert!(matches!(recognise(b"1.0 2.0 3.0\n4 5 6\n"), Kind::Foreign(_)));
    }
}
