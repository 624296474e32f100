//! Everything that can be done by one press, with its key. A button does the same [`Action`] as its key.

mod key;
mod table;

use bevy::input::ButtonState;
use bevy::input::keyboard::{KeyboardFocusLost, KeyboardInput};
use bevy::prelude::*;
use bevy_egui::input::EguiWantsInput;

pub use key::Held;
pub use table::Action;

use crate::state::{Bench, Typing};

/// Actions asked for and not done yet.
#[derive(Resource, Default)]
pub struct Asked(pub Vec<Action>);

/// Turns keys into actions, in the order in which they were pressed: a slow frame may hold a whole chord.
pub fn from_keys(
    mut keys: MessageReader<KeyboardInput>,
    mut lost: MessageReader<KeyboardFocusLost>,
    bench: Res<Bench>,
    wants: Res<EguiWantsInput>,
    typing: Res<Typing>,
    mut held: Local<Held>,
    mut asked: ResMut<Asked>,
) {
    if lost.read().count() > 0 {
        held.clear();
    }
    let elsewhere = bench.files.is_asking();
    for message in keys.read() {
        let pressed = message.state == ButtonState::Pressed;
        held.note(message.key_code, pressed);
        if !pressed || message.repeat || elsewhere || typing.takes(message.key_code, &wants) {
            continue;
        }
        let key = held.with(key::code(message));
        asked.0.extend(Action::of(key));
    }
}
