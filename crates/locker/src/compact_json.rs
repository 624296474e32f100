//! JSON for people: indented, but a list of numbers on one line.

use serde::Serialize;

/// The text of a value, ending with a line end.
pub(crate) fn to_text(value: &impl Serialize) -> serde_json::Result<String> {
    let mut text = join_numbers(&serde_json::to_string_pretty(value)?);
    text.push('\n');
    Ok(text)
}

/// Puts each innermost list of numbers on one line.
fn join_numbers(pretty: &str) -> String {
    let mut out = String::with_capacity(pretty.len());
    let mut rest = pretty;
    let mut in_string = false;
    while let Some(at) = rest.find(['"', '[', '\\']) {
        let (before, from) = rest.split_at(at);
        out.push_str(before);
        let mut taken = 1;
        match from.as_bytes()[0] {
            b'"' => in_string = !in_string,
            // The escaped character may be a quote.
            b'\\' if in_string => taken = 2.min(from.len()),
            b'[' if !in_string => {
                let numbers =
                    from[1..].find(|c: char| !matches!(c, '0'..='9' | '+' | '-' | '.' | 'e' | 'E' | ',' | ' ' | '\n'));
                if let Some(end) = numbers.filter(|end| from[1 + end..].starts_with(']')) {
                    let items: Vec<&str> = from[1..=end].split(',').map(str::trim).collect();
                    out.push('[');
                    out.push_str(&items.join(", "));
                    rest = &from[1 + end..];
                    continue;
                }
            }
            _ => {}
        }
        out.push_str(&from[..taken]);
        rest = &from[taken..];
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_lists_of_numbers_are_joined_and_the_value_stays() {
        let value = serde_json::json!({
            "line": [[1.5, -2e-7, 3], [4, 5, 6]], "empty": [], "words": ["[1,\n 2]", "a\\\"[", 3], "text": "\\",
        });
        let text = to_text(&value).unwrap();
        assert!(text.contains("[1.5, -2e-7, 3]"), "{text}");
        assert_eq!(serde_json::from_str::<serde_json::Value>(&text).unwrap(), value);
    }
}
