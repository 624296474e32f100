//! What egui is told of the keyboard: each key with the modifiers held at that moment, since a slow frame may hold a
//! whole chord, and the modifiers themselves only when they change.

use bevy::input::keyboard::{Key, KeyboardFocusLost, KeyboardInput};
use bevy::prelude::*;
use bevy_egui::egui::{self, Event, Modifiers};
use bevy_egui::helpers::{bevy_to_egui_key, bevy_to_egui_physical_key};
use bevy_egui::input::{EguiInputEvent, ModifierKeysState};
use bevy_egui::{EguiClipboard, EguiContextSettings, EguiInput, PrimaryEguiContext};

/// Settings of the panels' context in which bevy_egui leaves the keyboard to [`tell`].
pub fn settings() -> EguiContextSettings {
    let mut settings = EguiContextSettings::default();
    settings.input_system_settings.run_write_keyboard_input_messages_system = false;
    settings
}

/// Tells egui the keys of this frame.
pub fn tell(
    mut keys: MessageReader<KeyboardInput>,
    mut lost: MessageReader<KeyboardFocusLost>,
    mut held: Local<ModifierKeysState>,
    mut clipboard: ResMut<EguiClipboard>,
    context: Single<Entity, With<PrimaryEguiContext>>,
    mut out: MessageWriter<EguiInputEvent>,
) {
    if lost.read().count() > 0 {
        *held = ModifierKeysState::default();
    }
    for message in keys.read() {
        for event in events(message, &mut held, || clipboard.get_text()) {
            out.write(EguiInputEvent { context: *context, event });
        }
    }
}

/// The events that a key means to egui, with the modifiers held at that moment.
fn events(
    message: &KeyboardInput,
    held: &mut ModifierKeysState,
    clipboard: impl FnOnce() -> Option<String>,
) -> Vec<Event> {
    let pressed = message.state.is_pressed();
    match message.logical_key {
        Key::Shift => held.shift = pressed,
        Key::Control => held.ctrl = pressed,
        Key::Alt => held.alt = pressed,
        Key::Super | Key::Meta => held.win = pressed,
        _ => {}
    }
    let modifiers = held.to_egui_modifiers();
    let mut events = Vec::new();
    if pressed && held.text_input_is_allowed() {
        match &message.logical_key {
            Key::Character(text) if !text.contains(char::is_control) => events.push(Event::Text(text.to_string())),
            Key::Space => events.push(Event::Text(" ".to_owned())),
            _ => {}
        }
    }
    let physical_key = bevy_to_egui_physical_key(&message.key_code);
    // By position, where the keyboard has no Latin letters.
    let Some(key) = bevy_to_egui_key(&message.logical_key).or(physical_key) else { return events };
    events.push(Event::Key { key, physical_key, pressed, repeat: false, modifiers });
    if pressed && modifiers.command {
        match key {
            egui::Key::C => events.push(Event::Copy),
            egui::Key::X => events.push(Event::Cut),
            egui::Key::V => events.extend(clipboard().map(Event::Text)),
            _ => {}
        }
    }
    events
}

/// Drops news of modifiers that have not changed: bevy_egui sends it in every frame, egui draws once more after any
/// event, and so the window would never rest.
pub fn tell_once(mut inputs: Query<&mut EguiInput>, mut last: Local<Modifiers>) {
    for mut input in &mut inputs {
        keep_news(&mut input.events, &mut last);
    }
}

fn keep_news(events: &mut Vec<Event>, last: &mut Modifiers) {
    events.retain(|event| match event {
        Event::ModifiersChanged(now) => std::mem::replace(last, *now) != *now,
        _ => true,
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use bevy::input::ButtonState::{self, Pressed, Released};

    fn key(key_code: KeyCode, logical_key: Key, state: ButtonState) -> KeyboardInput {
        KeyboardInput { key_code, logical_key, state, text: None, repeat: false, window: Entity::PLACEHOLDER }
    }

    /// Control on a PC, command on a Mac, then a letter, both let go again.
    fn chord(code: KeyCode, letter: &str) -> [KeyboardInput; 4] {
        let (held, name) = if cfg!(target_os = "macos") {
            (KeyCode::SuperLeft, Key::Super)
        } else {
            (KeyCode::ControlLeft, Key::Control)
        };
        let letter = Key::Character(letter.into());
        [
            key(held, name.clone(), Pressed),
            key(code, letter.clone(), Pressed),
            key(code, letter, Released),
            key(held, name, Released),
        ]
    }

    /// The whole chord comes within one frame, as on a slow computer: the field's text is selected and then typed over.
    #[test]
    fn a_chord_within_one_frame_reaches_a_field_as_a_chord() {
        let ctx = egui::Context::default();
        // Without a font, text has no width that could be selected.
        let mut fonts = egui::FontDefinitions::empty();
        let regular = egui::FontData::from_static(include_bytes!("../../../assets/fonts/OpenSans-Regular.ttf"));
        fonts.font_data.insert("regular".to_owned(), regular.into());
        for family in [egui::FontFamily::Proportional, egui::FontFamily::Monospace] {
            fonts.families.insert(family, vec!["regular".to_owned()]);
        }
        ctx.set_fonts(fonts);
        let mut text = "/home/keeper/scans".to_owned();
        let mut frame = |events: Vec<Event>| {
            let input = egui::RawInput { events, ..egui::RawInput::default() };
            drop(ctx.run_ui(input, |ui| {
                ui.add(egui::TextEdit::singleline(&mut text)).request_focus();
            }));
            text.clone()
        };
        let mut held = ModifierKeysState::default();
        let mut told = |messages: &[KeyboardInput]| -> Vec<Event> {
            messages.iter().flat_map(|message| events(message, &mut held, || None)).collect()
        };
        frame(Vec::new());
        frame(Vec::new());
        assert_eq!(frame(told(&chord(KeyCode::KeyA, "a"))), "/home/keeper/scans", "no bare letter arrives");
        let typed = told(&[key(KeyCode::KeyX, Key::Character("x".into()), Pressed)]);
        assert_eq!(frame(typed), "x", "all of it was marked");
    }

    #[test]
    fn copying_and_pasting_go_by_what_is_held_when_the_letter_comes() {
        let mut held = ModifierKeysState::default();
        let mut told = |code, letter: &str| -> Vec<Event> {
            let all = chord(code, letter);
            all.iter().flat_map(|message| events(message, &mut held, || Some("from elsewhere".to_owned()))).collect()
        };
        assert!(told(KeyCode::KeyC, "c").contains(&Event::Copy));
        assert!(told(KeyCode::KeyV, "v").contains(&Event::Text("from elsewhere".to_owned())));
        assert!(!told(KeyCode::KeyA, "a").iter().any(|event| matches!(event, Event::Text(_))));
    }

    #[test]
    fn held_keys_are_told_once() {
        let mut last = Modifiers::NONE;
        let told = |now: Modifiers, last: &mut Modifiers| {
            let mut events = vec![Event::ModifiersChanged(now), Event::Copy];
            keep_news(&mut events, last);
            events.len()
        };
        assert_eq!(told(Modifiers::NONE, &mut last), 1);
        assert_eq!(told(Modifiers::SHIFT, &mut last), 2);
        assert_eq!(told(Modifiers::SHIFT, &mut last), 1);
        assert_eq!(told(Modifiers::NONE, &mut last), 2);
    }
}
