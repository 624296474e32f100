//! `--report`: what the window is doing, written into a file after each frame, for programs that wait for it.

use std::path::PathBuf;

use bevy::ecs::system::SystemParam;
use bevy::input::keyboard::KeyboardInput;
use bevy::input::mouse::MouseButtonInput;
use bevy::prelude::*;
use bevy::window::{CursorMoved, PrimaryWindow};
use bevy_egui::EguiContexts;
use serde_json::{Value, json};

use crate::actions::Asked;
use crate::pace::Goings;
use crate::state::{Bench, View};

/// Frames without anything to do after which the window counts as resting: what one frame asks for begins in the next.
const RESTING_AFTER: u32 = 3;

/// Where the report is written, and what was counted.
#[derive(Resource)]
pub struct Report {
    path: PathBuf,
    frames: u64,
    /// Keys that went down.
    keys: u64,
    /// Frames since something was last done.
    quiet: u32,
}

impl Report {
    /// A report into a file.
    pub fn new(path: PathBuf) -> Self {
        Self { path, frames: 0, keys: 0, quiet: 0 }
    }

    /// Replaces the file as a whole, so that nobody reads half of it.
    fn put(&self, text: &str) {
        let beside = self.path.with_extension("new");
        let put = std::fs::write(&beside, text).and_then(|()| std::fs::rename(&beside, &self.path));
        if let Err(error) = put {
            error_once!("{} cannot be written: {error}", self.path.display());
        }
    }
}

/// Input from mouse and keyboard.
#[derive(SystemParam)]
pub struct Hand<'w, 's> {
    window: Single<'w, 's, &'static Window, With<PrimaryWindow>>,
    pressed: MessageReader<'w, 's, KeyboardInput>,
    clicked: MessageReader<'w, 's, MouseButtonInput>,
    moved: MessageReader<'w, 's, CursorMoved>,
    keys: Res<'w, ButtonInput<KeyCode>>,
    buttons: Res<'w, ButtonInput<MouseButton>>,
}

/// Writes the report.
pub fn write(
    mut report: ResMut<Report>,
    mut hand: Hand,
    mut contexts: EguiContexts,
    bench: Res<Bench>,
    view: Res<View>,
    asked: Res<Asked>,
    goings: Goings,
) {
    let all = hand.pressed.read().filter(|key| !key.repeat).map(|key| key.state.is_pressed());
    let keys: Vec<bool> = all.collect();
    report.keys += keys.iter().filter(|down| **down).count() as u64;
    let touched = !keys.is_empty() || hand.clicked.read().count() + hand.moved.read().count() > 0;
    let draws = contexts.ctx_mut().is_ok_and(|ctx| ctx.has_requested_repaint());
    let answered = bench.files.chooser.as_ref().is_some_and(|chooser| chooser.answer.is_some());
    let goes_on = touched || draws || answered || goings.go_on() || !asked.0.is_empty() || !bench.session.is_kept();
    report.quiet = if goes_on { 0 } else { report.quiet.saturating_add(1) };
    report.frames += 1;
    let now = json!({
        "frames": report.frames,
        "rests": report.quiet >= RESTING_AFTER,
        "working": bench.session.progress().into_iter().map(|progress| progress.what).collect::<Vec<_>>(),
        "step": view.step.name(),
        "asks": asks(&bench),
        "typed": bench.files.chooser.as_ref().and_then(|chooser| chooser.own.as_ref()).map(|own| own.text.as_str()),
        "arrived": bench.files.arrived,
        "keys": report.keys,
        "held": hand.keys.get_pressed().count(),
        "buttons": hand.buttons.get_pressed().count(),
        "pointer": hand.window.cursor_position().map(|at| [at.x, at.y]),
    });
    report.put(&now.to_string());
}

/// What stands in front of the window and waits for an answer.
fn asks(bench: &Bench) -> Value {
    let files = &bench.files;
    match (&files.chooser, &files.question) {
        (Some(chooser), _) => json!(chooser.request.title()),
        (None, Some(_)) => json!("question"),
        (None, None) => Value::Null,
    }
}
