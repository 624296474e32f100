//! Numbers in text files, as scanners and modelling programs really write them.

/// A number read from a token.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Number<T> {
    /// All of the token is a number; may be NaN or infinite.
    Whole(T),
    /// The token starts with a number, and something else follows.
    Front(T),
    /// No number.
    None,
}

/// Reads `token` as f32.
pub(super) fn number_f32(token: &[u8]) -> Number<f32> {
    number(token)
}

/// Reads `token` as f64.
pub(super) fn number_f64(token: &[u8]) -> Number<f64> {
    number(token)
}

fn number<T: std::str::FromStr + From<f32>>(token: &[u8]) -> Number<T> {
    let Ok(text) = std::str::from_utf8(token) else { return Number::None };
    if let Ok(value) = text.parse() {
        return Number::Whole(value);
    }
    // Old C runtimes print "1.#IND", "-1.#INF", "1.#QNAN".
    if text.contains(".#") || text.trim_start_matches(['+', '-']).to_ascii_lowercase().starts_with("nan") {
        return Number::Whole(T::from(f32::NAN));
    }
    let front = front_length(token);
    // "1,5" is a decimal comma: taking the 1 would move the point silently.
    if token.get(front) == Some(&b',') {
        return Number::None;
    }
    text.get(..front).and_then(|t| t.parse().ok()).map_or(Number::None, Number::Front)
}

/// Length of the longest prefix of `token` that has the form of a number.
fn front_length(token: &[u8]) -> usize {
    let digits = |from: usize| token.iter().skip(from).take_while(|b| b.is_ascii_digit()).count();
    let mut at = usize::from(matches!(token.first(), Some(b'+' | b'-')));
    at += digits(at);
    if token.get(at) == Some(&b'.') {
        at += 1;
        at += digits(at);
    }
    if matches!(token.get(at), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(token.get(at + 1), Some(b'+' | b'-')));
        let exponent = digits(at + 1 + sign);
        if exponent > 0 {
            at += 1 + sign + exponent;
        }
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn common_and_odd_spellings() {
        for (text, value) in [("1", 1.0), ("+2.", 2.0), (".5", 0.5), ("-1e-07", -1e-7), ("3.E1", 30.0)] {
            assert_eq!(number_f32(text.as_bytes()), Number::Whole(value), "{text}");
        }
        assert_eq!(number_f32(b"3.1+e2"), Number::Front(3.1));
        assert_eq!(number_f32(b"7mm"), Number::Front(7.0));
        assert_eq!(number_f64(b"2e"), Number::Front(2.0));
        for text in ["", "-", "x", "1,5", "."] {
            assert_eq!(number_f32(text.as_bytes()), Number::None, "{text}");
        }
        for text in ["nan", "-nan", "1.#IND", "-1.#QNAN"] {
            assert!(matches!(number_f32(text.as_bytes()), Number::Whole(v) if v.is_nan()), "{text}");
        }
    }
}
