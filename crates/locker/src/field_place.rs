//! Where a field is in a JSON text, for the line and column of a message.

/// Line and column, from 1, of the value at `path` (such as `shell.fittings[2].turn_deg`), or of the innermost field
/// around it that is written out. The text must be valid JSON; for any other the place is arbitrary.
pub(crate) fn place_of(text: &str, path: &str) -> (usize, usize) {
    let mut cursor = Cursor { bytes: text.as_bytes(), at: 0 };
    cursor.blanks();
    let mut found = cursor.at;
    let names = path.split(['.', '[', ']']).filter(|name| !name.is_empty());
    for name in names {
        if !cursor.enter(name) {
            break;
        }
        found = cursor.at;
    }
    line_and_column(text, found)
}

/// Line and column, from 1, of a byte; columns count characters.
fn line_and_column(text: &str, at: usize) -> (usize, usize) {
    let before = String::from_utf8_lossy(&text.as_bytes()[..at.min(text.len())]);
    let line = before.matches('\n').count() + 1;
    let column = before.rsplit('\n').next().map_or(0, |row| row.chars().count()) + 1;
    (line, column)
}

struct Cursor<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl Cursor<'_> {
    fn peek(&self) -> u8 {
        self.bytes.get(self.at).copied().unwrap_or(0)
    }

    fn blanks(&mut self) {
        while self.peek().is_ascii_whitespace() {
            self.at += 1;
        }
    }

    /// Moves from the start of an object or list to the start of its member `name`; returns whether there is one.
    fn enter(&mut self, name: &str) -> bool {
        let list = match self.peek() {
            b'{' => false,
            b'[' => true,
            _ => return false,
        };
        self.at += 1;
        let mut number = 0_usize;
        loop {
            self.blanks();
            if matches!(self.peek(), b'}' | b']' | 0) {
                return false;
            }
            let wanted = if list {
                name.parse() == Ok(number)
            } else {
                let start = self.at;
                self.skip_string();
                let key = self.bytes.get(start + 1..self.at.saturating_sub(1)).unwrap_or_default();
                self.blanks();
                self.at += 1;
                self.blanks();
                key == name.as_bytes()
            };
            if wanted {
                return true;
            }
            self.skip_value();
            self.blanks();
            if self.peek() != b',' {
                return false;
            }
            self.at += 1;
            number += 1;
        }
    }

    fn skip_string(&mut self) {
        self.at += 1;
        while !matches!(self.peek(), b'"' | 0) {
            self.at += if self.peek() == b'\\' { 2 } else { 1 };
        }
        self.at += 1;
    }

    fn skip_value(&mut self) {
        let mut depth = 0_usize;
        while self.at < self.bytes.len() {
            match self.peek() {
                b'"' => {
                    self.skip_string();
                    if depth == 0 {
                        return;
                    }
                    continue;
                }
                b'{' | b'[' => depth += 1,
                b'}' | b']' => {
                    if depth == 0 {
                        return;
                    }
                    depth -= 1;
                    if depth == 0 {
                        self.at += 1;
                        return;
                    }
                }
                b',' if depth == 0 => return,
                _ => {}
            }
            self.at += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::place_of;

    #[test]
    fn fields_are_found_in_objects_and_lists() {
        let text = "{\n \"a\": {\"b\\\"]\": [1, \"],}\"], \"c\": 7},\n \"list\": [ {\"x\": 1},\n   {\"x\": 22} ]\n}";
        assert_eq!(place_of(text, "a.c"), (2, 33));
        assert_eq!(place_of(text, "list[1].x"), (4, 10));
        assert_eq!(place_of(text, "list[1].missing"), (4, 4));
        assert_eq!(place_of(text, "nothing"), (1, 1));
        assert_eq!(place_of("", "a.b[3]"), (1, 1));
    }
}
