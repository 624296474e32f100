//! Text from a file, made short and safe to quote in a sentence.

/// Most characters of a word that are shown.
const LONGEST_WORD: usize = 40;
/// Most characters of the name of another file.
const LONGEST_NAME: usize = 80;
/// Numbers from here on are shown by their power of ten.
const LONG_NUMBER: f64 = 1e13;
/// Fractions below this too.
const SHORT_FRACTION: f64 = 1e-3;

/// A word of the file.
pub(super) fn shown(word: &[u8]) -> String {
    short(word, LONGEST_WORD)
}

/// The name of a file beside the scan.
pub(super) fn shown_name(name: &str) -> String {
    short(name.as_bytes(), LONGEST_NAME)
}

/// A number that should be whole, such as a count or an index.
pub(super) fn shown_number(number: f64) -> String {
    let short = number as f32;
    if number.abs() < LONG_NUMBER && number.fract() == 0.0 {
        format!("{number:.0}")
    } else if (SHORT_FRACTION..LONG_NUMBER).contains(&number.abs()) && short.fract() != 0.0 {
        short.to_string()
    } else {
        format!("{number:.1e}")
    }
}

/// “its header says 4 triangles, but only 2 are complete”: `said` with its noun.
pub(super) fn fewer_than_said(said: &str, complete: u64) -> String {
    match complete {
        0 => format!("its header says {said}, but none is complete"),
        1 => format!("its header says {said}, but only 1 is complete"),
        _ => format!("its header says {said}, but only {complete} are complete"),
    }
}

fn short(text: &[u8], longest: usize) -> String {
    // A character takes four bytes at most.
    let text = String::from_utf8_lossy(text.get(..4 * longest + 4).unwrap_or(text));
    let mut letters = text.chars().filter(|c| !c.is_control() && !turns_the_line(*c));
    let shown: String = letters.by_ref().take(longest).collect();
    if letters.next().is_some() { shown + "…" } else { shown }
}

/// Marks that make a terminal write from right to left.
fn turns_the_line(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_shown_on_one_line_and_cut_between_letters() {
        assert_eq!(shown(b"7mm"), "7mm");
        assert_eq!(shown("a\n\u{1b}[2J\u{202e}b".as_bytes()), "a[2Jb");
        assert_eq!(shown("é".repeat(41).as_bytes()), "é".repeat(40) + "…");
        assert_eq!(shown("é".repeat(40).as_bytes()), "é".repeat(40));
        assert_eq!(shown(&[b'9'; 5000]), "9".repeat(40) + "…");
        assert_eq!(shown_name(&"x".repeat(300)).chars().count(), 81);
    }

    #[test]
    fn numbers_have_no_more_figures_than_anybody_reads() {
        assert_eq!(shown_number(-3.0), "-3");
        assert_eq!(shown_number(4_000_000_000_000.0), "4000000000000");
        assert_eq!(shown_number(u64::MAX as f64), "1.8e19");
        assert_eq!(shown_number(-1e300), "-1.0e300");
        assert_eq!(shown_number(2.5), "2.5");
        assert_eq!(shown_number(-6.4), "-6.4");
        assert_eq!(shown_number(f64::from(-6.4_f32)), "-6.4");
        assert_eq!(shown_number(2e-7), "2.0e-7");
        assert_eq!(shown_number(f64::INFINITY), "inf");
        assert_eq!(shown_number(f64::NAN), "NaN");
    }
}
