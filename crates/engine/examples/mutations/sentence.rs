//! Whether a refusal is a sentence for the person who opened the file.

/// Longest sentence, characters, not counting the hash that names a scan.
const LONGEST: usize = 320;
/// Most digits in a row that a person can read.
const LONGEST_NUMBER: usize = 13;
/// Marks of values in debug format.
const FOR_PROGRAMMERS: &[&str] =
    &["Some(", "None", "Ok(", "Err(", "Error {", "Point {", "OPoint", "Os {", "[[", "\\u{", "\\n", "::"];
/// Words that say what the user can do.
const CURES: &[&str] = &[
    "must be",
    "export",
    "copy",
    "check",
    "choose",
    "make",
    "set",
    "open",
    "take",
    "put",
    "use",
    "draw",
    "move",
    "scan again",
    "start again",
    "leave",
    "give",
    "write",
    "update",
    "save",
    "compare",
    "shrink",
    "smooth",
    "mark",
    "turn",
    "join",
    "grow",
    "expected",
    "needs",
    "at most",
    "at least",
];

/// What is wrong with the sentence, if anything.
pub fn fault(said: &str, file: &str) -> Option<String> {
    let said = said.trim_end();
    let length =
        said.split_whitespace().filter(|word| !is_hash(word)).map(|word| word.chars().count() + 1).sum::<usize>();
    if said.contains(['\n', '\r', '\t']) || said.chars().any(char::is_control) {
        return Some("it has more than one line".into());
    }
    if !said.ends_with('.') {
        return Some("it does not end with a full stop".into());
    }
    if length > LONGEST {
        return Some(format!("it is {length} letters long"));
    }
    if !begins_well(said, file) {
        return Some("it begins neither with a capital nor with a name".into());
    }
    if let Some(found) = FOR_PROGRAMMERS.iter().find(|found| said.contains(**found)) {
        return Some(format!("it shows a value as for programmers: {found}"));
    }
    if longest_number(said) > LONGEST_NUMBER {
        return Some("it has a number that nobody can read".into());
    }
    let small = said.to_lowercase();
    let place = said.contains(|c: char| c.is_ascii_digit());
    (!place && !CURES.iter().any(|cure| small.contains(cure))).then(|| "it names no place and no cure".into())
}

/// Whether it begins with a capital, the name of the file or the path of a setting.
fn begins_well(said: &str, file: &str) -> bool {
    let first = said.split([' ', ',']).next().unwrap_or_default();
    said.starts_with(char::is_uppercase)
        || first.contains(file)
        || first.ends_with(':')
        || first.contains(['.', '_', '['])
}

fn is_hash(word: &str) -> bool {
    word.len() >= 64 && word.bytes().take(64).all(|b| b.is_ascii_hexdigit())
}

fn longest_number(said: &str) -> usize {
    // Text in quotes is quoted from the file.
    let said: String = said.split('“').map(|part| part.split_once('”').map_or(part, |(_, after)| after)).collect();
    let words = said.split_whitespace().filter(|word| !is_hash(word));
    words.flat_map(|word| word.split(|c: char| !c.is_ascii_digit())).map(str::len).max().unwrap_or(0)
}
