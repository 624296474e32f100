//! Key combinations, and how they are written.

use std::collections::BTreeSet;

use bevy::input::keyboard::{Key as Written, KeyboardInput};
use bevy::prelude::KeyCode;

use super::Action;

/// A key with its modifiers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Key {
    /// The key.
    pub code: KeyCode,
    /// Control, or command on a Mac.
    pub command: bool,
    /// Shift.
    pub shift: bool,
}

pub(super) const fn key(code: KeyCode) -> Key {
    Key { code, command: false, shift: false }
}

pub(super) const fn shift(code: KeyCode) -> Key {
    Key { code, command: false, shift: true }
}

pub(super) const fn ctrl(code: KeyCode) -> Key {
    Key { code, command: true, shift: false }
}

pub(super) const fn ctrl_shift(code: KeyCode) -> Key {
    Key { code, command: true, shift: true }
}

impl Key {
    /// How it is written on this computer.
    #[must_use]
    pub fn label(self) -> String {
        self.written(cfg!(target_os = "macos"))
    }

    /// How it is written on a Mac or elsewhere.
    #[must_use]
    pub fn written(self, mac: bool) -> String {
        let command = if mac { "Cmd " } else { "Ctrl " };
        let held = [(self.command, command), (self.shift, "Shift ")];
        let held: String = held.into_iter().filter(|(down, _)| *down).map(|(_, word)| word).collect();
        format!("{held}{}", name(self.code))
    }
}

/// The label of a key; letters and digits as they are.
fn name(code: KeyCode) -> String {
    let word = match code {
        KeyCode::PageUp => "Page up",
        KeyCode::PageDown => "Page down",
        KeyCode::Escape => "Esc",
        KeyCode::Space => "Space, held",
        KeyCode::BracketLeft => "[",
        KeyCode::BracketRight => "]",
        KeyCode::Comma => ",",
        KeyCode::Period => ".",
        KeyCode::Equal => "=",
        KeyCode::Minus => "−",
        other => {
            let word = format!("{other:?}");
            let bare = word.strip_prefix("Key").or_else(|| word.strip_prefix("Digit"));
            return bare.map_or(word.clone(), str::to_owned);
        }
    };
    word.to_owned()
}

/// The key by its label in the user's keyboard layout, or by its position if no action has a key with that label.
pub(super) fn code(input: &KeyboardInput) -> KeyCode {
    let Written::Character(text) = &input.logical_key else { return input.key_code };
    let written = if text.as_str() == "-" { "−".to_owned() } else { text.to_uppercase() };
    let mut codes = Action::ALL.iter().map(|action| action.key().code);
    codes.find(|code| name(*code) == written).unwrap_or(input.key_code)
}

/// The modifier keys that are held down.
#[derive(Default)]
pub struct Held(BTreeSet<u8>);

impl Held {
    pub(super) fn note(&mut self, code: KeyCode, pressed: bool) {
        let number = match code {
            KeyCode::ControlLeft => 0,
            KeyCode::ControlRight => 1,
            KeyCode::SuperLeft => 2,
            KeyCode::SuperRight => 3,
            KeyCode::ShiftLeft => 4,
            KeyCode::ShiftRight => 5,
            _ => return,
        };
        if pressed {
            self.0.insert(number);
        } else {
            self.0.remove(&number);
        }
    }

    pub(super) fn clear(&mut self) {
        self.0.clear();
    }

    pub(super) fn with(&self, code: KeyCode) -> Key {
        let any = |few: std::ops::Range<u8>| self.0.range(few).next().is_some();
        Key { code, command: any(0..4), shift: any(4..6) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_written_as_they_stand_on_the_keyboard() {
        assert_eq!(ctrl_shift(KeyCode::KeyS).written(false), "Ctrl Shift S");
        assert_eq!(ctrl_shift(KeyCode::KeyS).written(true), "Cmd Shift S");
        assert_eq!(key(KeyCode::Digit4).written(false), "4");
        assert_eq!(shift(KeyCode::PageUp).written(false), "Shift Page up");
        assert_eq!([KeyCode::F1, KeyCode::Enter, KeyCode::Home].map(name), ["F1", "Enter", "Home"]);
    }

    #[test]
    fn a_letter_counts_by_what_is_written_on_its_key() {
        let pressed = |key_code, text: &str| {
            code(&KeyboardInput {
                key_code,
                logical_key: Written::Character(text.into()),
                state: bevy::input::ButtonState::Pressed,
                text: None,
                repeat: false,
                window: bevy::prelude::Entity::PLACEHOLDER,
            })
        };
        // German: Y and Z change places; French: A and Q do, and digits need Shift.
        assert_eq!(pressed(KeyCode::KeyY, "z"), KeyCode::KeyZ);
        assert_eq!(pressed(KeyCode::KeyQ, "A"), KeyCode::KeyA);
        assert_eq!(pressed(KeyCode::Semicolon, "m"), KeyCode::KeyM);
        assert_eq!(pressed(KeyCode::Digit3, "\""), KeyCode::Digit3);
        // Greek, Cyrillic and the like: by position.
        assert_eq!(pressed(KeyCode::KeyZ, "ζ"), KeyCode::KeyZ);
    }

    #[test]
    fn what_is_held_counts_until_it_is_let_go() {
        let mut held = Held::default();
        held.note(KeyCode::ControlLeft, true);
        held.note(KeyCode::ShiftRight, true);
        assert_eq!(held.with(KeyCode::KeyZ), ctrl_shift(KeyCode::KeyZ));
        held.note(KeyCode::ShiftRight, false);
        assert_eq!(held.with(KeyCode::KeyZ), ctrl(KeyCode::KeyZ));
        held.clear();
        held.note(KeyCode::KeyA, true);
        assert_eq!(held.with(KeyCode::KeyZ), key(KeyCode::KeyZ));
    }
}
