//! The JSON reader's messages, in words for people who edit the file by hand.

/// Most characters that are shown of what was typed.
const LONGEST: usize = 60;
/// Most names of fields or choices that are listed.
const MOST_NAMES: usize = 6;
/// Least similarity, 0 to 1, at which a listed name is taken for the one that was meant.
const ALIKE: f64 = 0.7;

/// The reader's words and the plain ones for them, replaced in this order.
const WORDS: [(&str, &str); 34] = [
    ("EOF while parsing a list", "the text ends within a list"),
    ("EOF while parsing a string", "the text ends within a text in quotes"),
    ("EOF while parsing an object", "the text ends within a group of fields"),
    ("EOF while parsing a value", "the text ends where a value is expected"),
    (
        "control character (\\u0000-\\u001F) found while parsing a string",
        "a text in quotes runs past the end of its line",
    ),
    ("key must be a string", "a field's name in quotes is expected"),
    ("trailing characters", "there is more text after the value"),
    ("trailing comma", "a comma stands before a closing bracket"),
    ("expected value", "a value is expected"),
    ("number out of range", "the number is too large"),
    ("recursion limit exceeded", "brackets are nested too deeply"),
    ("invalid unicode code point", "an escaped letter that does not exist"),
    ("invalid escape", "a backslash before a letter that it does not go with"),
    ("lone leading surrogate in hex escape", "an escaped letter that does not exist"),
    ("unknown variant", "unknown choice"),
    ("invalid type: ", "found "),
    ("invalid value: ", "found "),
    ("invalid length ", "found a list of length "),
    ("floating point ", "the number "),
    ("integer ", "the number "),
    ("found string ", "found the text "),
    ("found boolean ", "found "),
    ("found sequence", "found a list"),
    ("found map", "found a group of fields"),
    ("found null", "found nothing (null)"),
    ("expected a matrix array", "expected a list of 3 numbers"),
    ("expected an array of length", "expected a list of length"),
    ("expected a sequence", "expected a list"),
    ("expected f32", "expected a number"),
    ("expected f64", "expected a number"),
    ("expected u32", "expected a whole number, 0 or more"),
    ("expected u64", "expected a whole number, 0 or more"),
    ("expected u8", "expected a whole number from 0 to 255"),
    ("expected a boolean", "expected true or false"),
];

pub(crate) fn plain(why: &str) -> String {
    let mut text = WORDS.iter().fold(quoted(why), |text, (from, to)| text.replace(from, to));
    // The names of Rust types say nothing to the user.
    let kinds = [
        "expected struct variant ",
        "expected tuple variant ",
        "expected struct ",
        "expected enum ",
        "expected variant ",
        "expected tuple ",
    ];
    for kind in kinds {
        if let Some(at) = text.find(kind) {
            let name = at + kind.len();
            let end = text[name..].find([' ', ',', ';']).map_or(text.len(), |length| name + length);
            let with = text[end..].find(" elements").map_or(end, |length| end + length + " elements".len());
            text.replace_range(at..with, "expected a group of fields");
        }
    }
    if let Some((_, wanted)) =
        text.split_once(", expected a list of 3 numbers").filter(|_| text.starts_with("found a list of length"))
    {
        // The reader stops counting at the third number, so the length that it names may be wrong.
        text = format!("found a list of another length, expected a list of 3 numbers{wanted}");
    }
    one_of_many(&text).unwrap_or(text)
}

/// Shortens a long list of known names to the one that was meant, or else to the first few.
fn one_of_many(text: &str) -> Option<String> {
    let (before, list) = text.split_once(", expected one of ")?;
    let names: Vec<&str> = list.split(", ").collect();
    if names.len() <= MOST_NAMES {
        return None;
    }
    let typed = before.split('`').nth(1)?;
    let alike = |name: &&&str| strsim::normalized_damerau_levenshtein(typed, name.trim_matches('`'));
    let meant = names.iter().max_by(|a, b| alike(a).total_cmp(&alike(b))).filter(|name| alike(name) >= ALIKE);
    Some(match meant {
        Some(meant) => format!("{before}, expected {meant}"),
        None => {
            let (first, more) = names.split_at(MOST_NAMES);
            format!("{before}, expected one of {} or {} more", first.join(", "), more.len())
        }
    })
}

/// Shows what was typed shortened, on one line and in typographic quotes.
fn quoted(why: &str) -> String {
    let (head, tail) = match why.split_once("string \"") {
        Some((before, rest)) => match rest.rfind("\", expected") {
            Some(end) => (format!("{before}string “{}”", short(&unescaped(&rest[..end]))), rest[end + 1..].to_owned()),
            None => (format!("{before}string “{}", short(rest)), String::new()),
        },
        None => (why.to_owned(), String::new()),
    };
    let all = head + &tail;
    // An unknown name stands between the first two backticks.
    let Some((before, rest)) = all.split_once('`') else { return one_line(&all) };
    let Some((name, after)) = rest.split_once('`') else { return one_line(&all) };
    let name = if name.parse::<f64>().is_ok() { number(name) } else { short(name) };
    one_line(&format!("{before}`{name}`{after}"))
}

/// Undoes the escapes of a text in the reader's message, with a dot for each invisible character.
fn unescaped(text: &str) -> String {
    let (mut out, mut letters) = (String::new(), text.chars());
    while let Some(c) = letters.next() {
        if c != '\\' {
            out.push(c);
            continue;
        }
        out.push(match letters.next() {
            Some(c @ ('"' | '\'' | '\\')) => c,
            // As in \u{202e}.
            Some('u') => {
                letters.by_ref().find(|c| *c == '}');
                '·'
            }
            _ => '·',
        });
    }
    out
}

/// What was typed, at most 60 characters of it and on one line.
#[must_use]
pub fn short(text: &str) -> String {
    let shown: String = text.chars().take(LONGEST).collect();
    one_line(&if shown.len() < text.len() { shown + "…" } else { shown })
}

fn one_line(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}') { '·' } else { c })
        .collect()
}

/// A number as typed, or rounded where it has more than 9 digits; in powers of ten where it is very large or small.
#[must_use]
pub fn number(typed: &str) -> String {
    let long = typed.bytes().filter(u8::is_ascii_digit).count() > 9;
    match typed.parse::<f64>() {
        Ok(value) if long && (1.0..LARGE).contains(&value.abs()) => format!("{value:.1}"),
        Ok(value) if long && value.abs() < 1.0 && value.abs() > 1e-3 => format!("{value:.3}"),
        Ok(value) if long => format!("{value:.2e}"),
        _ => typed.to_owned(),
    }
}

/// Numbers from here on are written with a power of ten.
const LARGE: f64 = 1e9;

/// A refused number with at most so many decimals, rounded away from what is allowed so that it never looks allowed.
#[must_use]
pub fn outside(value: f64, least: f64, most: f64, decimals: i32) -> String {
    if value.is_finite() && value.abs() >= LARGE {
        return format!("{value:.1e}");
    }
    let scale = 10_f64.powi(decimals);
    let scaled = value * scale;
    let rounded = if value < least {
        (scaled + 1e-6).floor()
    } else if value > most {
        (scaled - 1e-6).ceil()
    } else {
        scaled.round()
    };
    (rounded / scale).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Deserialize;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[allow(dead_code)]
    struct Strap {
        width_mm: f32,
        #[serde(default)]
        colour: [u8; 3],
        #[serde(default)]
        closed: bool,
        #[serde(default)]
        kind: Option<Kind>,
    }

    #[derive(Debug, Deserialize)]
    #[serde(rename_all = "kebab-case")]
    #[allow(dead_code)]
    enum Kind {
        HookAndLoop,
        Buckle,
        Hook { turns: u8 },
    }

    fn said(text: &str) -> String {
        let slip = crate::read::<Strap>(text).unwrap_err();
        format!("{}: {}", slip.field, slip.why)
    }

    #[test]
    fn what_is_wrong_is_said_without_words_of_programmers() {
        for (text, words) in [
            ("{\"width_mm\": \"25 mm\"}", "width_mm: found the text “25 mm”, expected a number"),
            ("{\"width_mm\": true}", "width_mm: found `true`, expected a number"),
            ("{\"width_mm\": []}", "width_mm: found a list, expected a number"),
            ("{\"width_mm\": 25, \"colour\": [1, 2]}", "colour: found a list of length 2, expected a list of length 3"),
            (
                "{\"width_mm\": 25, \"colour\": [1, 2, 491]}",
                "colour[2]: found the number `491`, expected a whole number from 0 to 255",
            ),
            ("{\"width_mm\": 25, \"closed\": 1}", "closed: found the number `1`, expected true or false"),
            (
                "{\"width_mm\": 25, \"kind\": \"lace\"}",
                "kind: unknown choice `lace`, expected one of `hook-and-loop`, `buckle`, `hook`",
            ),
            (
                "{\"width_mm\": 25, \"kind\": {\"hook\": 3}}",
                "kind.hook: found the number `3`, expected a group of fields",
            ),
            ("{\"width\": 25}", "width: unknown field `width`, expected one of `width_mm`, `colour`, `closed`, `kind`"),
            ("{}", "the top level: missing field `width_mm`"),
            ("3", "the top level: found the number `3`, expected a group of fields"),
            ("{\"width_mm\": 25,}", "the JSON text: a comma stands before a closing bracket"),
            ("{width_mm: 25}", "the JSON text: a field's name in quotes is expected"),
            ("{\"width_mm\": 2", "the JSON text: the text ends within a group of fields"),
            ("{\"width_mm\": 25} 7", "the end of the file: there is more text after the value"),
        ] {
            assert_eq!(said(text), words, "{text}");
        }
    }

    #[test]
    fn of_many_names_the_one_that_was_meant_is_told_or_a_few() {
        let listed = "expected one of `length`, `width`, `height`, `weight`, `colour`, `cost`, `gap`, `name`";
        let said = |typed: &str| plain(&format!("unknown field `{typed}`, {listed}"));
        assert_eq!(said("widths"), "unknown field `widths`, expected `width`");
        assert_eq!(
            said("zone"),
            "unknown field `zone`, expected one of `length`, `width`, `height`, `weight`, `colour`, `cost` or 2 more"
        );
    }

    #[test]
    fn what_was_typed_is_shown_short_and_on_one_line() {
        let long = format!("{{\"width_mm\": \"{}\"}}", "x".repeat(5000));
        assert!(said(&long).chars().count() < 120, "{}", said(&long));
        let typed = "{\"width_mm\": 25, \"closed\": \"\\u202e7\\n \\\"x\\\" c:\\\\d\"}";
        assert_eq!(said(typed), "closed: found the text “·7· \"x\" c:\\d”, expected true or false");
        let broken = said("{\"width_mm\": 25, \"kind\": \"a\\n\\u202eb\"}");
        assert!(broken.contains("`a··b`"), "{broken}");
        assert!(said("{\"width_mm\": 25, \"closed\": 18446744073709551615}").contains("`1.84e19`"));
    }

    #[test]
    fn numbers_keep_the_figures_that_were_typed_unless_they_are_too_many() {
        assert_eq!(number("25"), "25");
        assert_eq!(number("-0.125"), "-0.125");
        assert_eq!(number("18446744073709552000"), "1.84e19");
        assert_eq!(number("0.9999999984082972"), "1.000");
        assert_eq!(number("16.642496948242187"), "16.6");
        assert_eq!(number("no number"), "no number");
    }

    #[test]
    fn a_refused_number_is_short_and_never_looks_allowed() {
        let said = |value, decimals| outside(value, 0.05, 1.0, decimals);
        assert_eq!([said(0.049_99, 3), said(0.049_99, 1)], ["0.049", "0"]);
        assert_eq!([said(1.000_01, 3), said(1.000_01, 1)], ["1.001", "1.1"]);
        assert_eq!(said(16.642_496_948_242_187, 1), "16.7");
        assert_eq!(said(0.262_658_596_038_818_36, 3), "0.263");
        assert_eq!([said(1_729_625_700_000_000.0, 1), said(-1e300, 1)], ["1.7e15", "-1.0e300"]);
        assert_eq!([said(f64::NAN, 1), said(f64::INFINITY, 1)], ["NaN", "inf"]);
    }

    #[test]
    fn bytes_that_are_no_text_are_told_with_their_place() {
        let slip = crate::read_bytes::<Strap>(b"{\n  \"width\xff_mm\": 1}").unwrap_err();
        assert_eq!((slip.line, slip.column), (2, 9));
    }
}
