//! Everything that can be done by one press, with its key.

use std::collections::BTreeSet;

use bevy::input::ButtonState;
use bevy::input::keyboard::{KeyboardFocusLost, KeyboardInput};
use bevy::prelude::*;
use bevy_egui::input::EguiWantsInput;

use crate::bench::Bench;
use crate::files::{Drawn, Next, Purpose};
use crate::mark::{self, Aim};
use crate::step::Step;
use crate::typing::Typing;
use crate::view::{Tool, View};

/// One thing that can be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Action {
    /// Opens a scan or design by dialog.
    Open,
    /// Saves the design.
    Save,
    /// Saves it somewhere else.
    SaveAs,
    /// Takes the last change back.
    Undo,
    /// Makes it again.
    Redo,
    /// Goes to the step after this.
    NextStep,
    /// Goes to the step before.
    PreviousStep,
    /// Paints.
    Paint,
    /// Erases.
    Erase,
    /// Only looks.
    Look,
    /// Sets corners of an outline.
    Outline,
    /// Closes the outline.
    CloseOutline,
    /// Takes a corner away.
    DeleteCorner,
    /// Paints or sets a corner in the middle of the stage while it is held.
    Middle,
    /// Makes the pen line the zone.
    TakePenLine,
    /// Marks the zone again after a region.
    MarkZone,
    /// Marks a new relief.
    MarkRelief,
    /// Marks a new reinforcement.
    MarkReinforcement,
    /// Marks a new region that stays clear.
    MarkKeepClear,
    /// Grows the zone.
    Grow,
    /// Shrinks it.
    Shrink,
    /// A larger brush.
    LargerBrush,
    /// A smaller brush.
    SmallerBrush,
    /// Stops long work.
    Stop,
    /// Shows this list.
    List,
    /// Shows the settings of the program.
    Settings,
    /// Opens the demo.
    Demo,
    /// Writes the print files.
    Export,
    /// Opens the folder of the print files.
    OpenFolder,
    /// Takes up the unsaved work that was found.
    TakeUp,
    /// Opens the scan that has arrived in the watched folder.
    OpenArrived,
    /// Puts the panels away while the guard is shown.
    CleanStage,
    /// Turns the guard slowly.
    TurnSlowly,
    /// Saves a picture of the guard at print size.
    SavePicture,
    /// Saves a short turn of the guard.
    SaveTurn,
    /// Closes the window.
    Close,
}

/// A key with what is held down besides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Key {
    /// The key.
    pub code: KeyCode,
    /// Control, or command on a Mac.
    pub command: bool,
    /// Shift.
    pub shift: bool,
    /// How it is written.
    pub label: &'static str,
}

const fn key(code: KeyCode, label: &'static str) -> Key {
    Key { code, command: false, shift: false, label }
}

const fn shift(code: KeyCode, label: &'static str) -> Key {
    Key { code, command: false, shift: true, label }
}

const fn command(code: KeyCode, shift: bool, label: &'static str) -> Key {
    Key { code, command: true, shift, label }
}

impl Action {
    /// All of them, in the order of the list.
    pub const ALL: [Self; 36] = [
        Self::Open,
        Self::Save,
        Self::SaveAs,
        Self::Undo,
        Self::Redo,
        Self::NextStep,
        Self::PreviousStep,
        Self::Paint,
        Self::Erase,
        Self::Look,
        Self::Outline,
        Self::CloseOutline,
        Self::DeleteCorner,
        Self::Middle,
        Self::TakePenLine,
        Self::MarkZone,
        Self::MarkRelief,
        Self::MarkReinforcement,
        Self::MarkKeepClear,
        Self::Grow,
        Self::Shrink,
        Self::LargerBrush,
        Self::SmallerBrush,
        Self::Stop,
        Self::List,
        Self::Settings,
        Self::Demo,
        Self::Export,
        Self::OpenFolder,
        Self::TakeUp,
        Self::OpenArrived,
        Self::CleanStage,
        Self::TurnSlowly,
        Self::SavePicture,
        Self::SaveTurn,
        Self::Close,
    ];

    /// What it is called, and its key.
    pub fn name(self) -> (&'static str, Key) {
        match self {
            Self::Open => ("Open a scan or design", command(KeyCode::KeyO, false, "Ctrl O")),
            Self::Save => ("Save", command(KeyCode::KeyS, false, "Ctrl S")),
            Self::SaveAs => ("Save as…", command(KeyCode::KeyS, true, "Ctrl Shift S")),
            Self::Undo => ("Undo", command(KeyCode::KeyZ, false, "Ctrl Z")),
            Self::Redo => ("Redo", command(KeyCode::KeyZ, true, "Ctrl Shift Z")),
            Self::NextStep => ("Next step", key(KeyCode::PageDown, "Page down")),
            Self::PreviousStep => ("Step before", key(KeyCode::PageUp, "Page up")),
            Self::Paint => ("Paint the zone", key(KeyCode::KeyB, "B")),
            Self::Erase => ("Erase", key(KeyCode::KeyE, "E")),
            Self::Look => ("Only turn the limb", key(KeyCode::KeyV, "V")),
            Self::Outline => ("Click round an outline", key(KeyCode::KeyO, "O")),
            Self::CloseOutline => ("Close the outline", key(KeyCode::Enter, "Enter")),
            Self::DeleteCorner => ("Delete a corner", key(KeyCode::Delete, "Delete")),
            Self::Middle => ("Mark in the middle of the stage", key(KeyCode::Space, "Space, held")),
            Self::TakePenLine => ("Take the pen line as the zone", key(KeyCode::KeyP, "P")),
            Self::MarkZone => ("Mark the zone", shift(KeyCode::KeyB, "Shift B")),
            Self::MarkRelief => ("Mark a relief", shift(KeyCode::KeyR, "Shift R")),
            Self::MarkReinforcement => ("Mark a reinforcement", shift(KeyCode::KeyT, "Shift T")),
            Self::MarkKeepClear => ("Mark what stays clear", shift(KeyCode::KeyK, "Shift K")),
            Self::Grow => ("Grow the zone by 1 mm", key(KeyCode::KeyG, "G")),
            Self::Shrink => ("Shrink it by 1 mm", shift(KeyCode::KeyG, "Shift G")),
            Self::LargerBrush => ("Larger brush", key(KeyCode::BracketRight, "]")),
            Self::SmallerBrush => ("Smaller brush", key(KeyCode::BracketLeft, "[")),
            Self::Stop => ("Stop what is running", key(KeyCode::Escape, "Esc")),
            Self::List => ("List of keys", key(KeyCode::F1, "F1")),
            Self::Settings => ("Settings", command(KeyCode::Comma, false, "Ctrl ,")),
            Self::Demo => ("Try it on an invented limb", key(KeyCode::F2, "F2")),
            Self::Export => ("Save print files…", command(KeyCode::KeyE, false, "Ctrl E")),
            Self::OpenFolder => ("Open the folder of the print files", command(KeyCode::KeyE, true, "Ctrl Shift E")),
            Self::TakeUp => ("Take up unsaved work", command(KeyCode::KeyR, false, "Ctrl R")),
            Self::OpenArrived => ("Open the scan that arrived", command(KeyCode::Enter, false, "Ctrl Enter")),
            Self::CleanStage => ("Panels away, to show the guard", key(KeyCode::KeyH, "H")),
            Self::SavePicture => ("Save a picture of the guard…", command(KeyCode::KeyP, false, "Ctrl P")),
            Self::SaveTurn => ("Save a short turn of the guard…", command(KeyCode::KeyP, true, "Ctrl Shift P")),
            Self::TurnSlowly => ("Turn the guard slowly", key(KeyCode::KeyT, "T")),
            Self::Close => ("Close the window", command(KeyCode::KeyQ, false, "Ctrl Q")),
        }
    }
}

/// Actions asked for and not done yet.
#[derive(Resource, Default)]
pub struct Asked(pub Vec<Action>);

/// Keys that are held down besides another.
#[derive(Default)]
pub struct Held(BTreeSet<u8>);

impl Held {
    fn note(&mut self, code: KeyCode, pressed: bool) {
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

    fn command(&self) -> bool {
        self.0.iter().any(|number| *number < 4)
    }

    fn shift(&self) -> bool {
        self.0.iter().any(|number| *number >= 4)
    }
}

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
        held.0.clear();
    }
    let elsewhere = bench.files.is_asking();
    for message in keys.read() {
        let pressed = message.state == ButtonState::Pressed;
        held.note(message.key_code, pressed);
        if !pressed || message.repeat || elsewhere || typing.takes(message.key_code, &wants) {
            continue;
        }
        let meant = Action::ALL.into_iter().find(|action| {
            let (_, key) = action.name();
            (key.code, key.command, key.shift) == (message.key_code, held.command(), held.shift())
        });
        asked.0.extend(meant);
    }
}

/// Does what was asked for.
pub fn perform(mut asked: ResMut<Asked>, mut bench: ResMut<Bench>, mut view: ResMut<View>) {
    for action in std::mem::take(&mut asked.0) {
        perform_one(action, &mut bench, &mut view);
    }
}

fn perform_one(action: Action, bench: &mut Bench, view: &mut View) {
    match action {
        Action::Undo => {
            if let Some(label) = bench.session.undo() {
                bench.say(format!("Undone: {label}"), false);
            }
        }
        Action::Redo => {
            if let Some(label) = bench.session.redo() {
                bench.say(format!("Done again: {label}"), false);
            }
        }
        Action::Save => bench.save(),
        Action::NextStep => view.step = view.step.next().unwrap_or(view.step),
        Action::PreviousStep => view.step = view.step.previous().unwrap_or(view.step),
        Action::Paint => (view.step, view.tool) = (Step::Zone, Tool::Paint),
        Action::Erase => (view.step, view.tool) = (Step::Zone, Tool::Erase),
        Action::Look => view.tool = Tool::Look,
        Action::Outline => (view.step, view.tool) = (Step::Zone, Tool::Outline),
        Action::CloseOutline => mark::close_outline(bench, view),
        Action::DeleteCorner => mark::delete_corner(bench, view),
        // The stage looks at the key itself for as long as it is held.
        Action::Middle => {}
        Action::TakePenLine => mark::take_pen_line(bench, view),
        Action::MarkZone => mark::aim(view, Aim::Zone),
        Action::MarkRelief => mark::aim(view, Aim::New(mark::RELIEF)),
        Action::MarkReinforcement => mark::aim(view, Aim::New(mark::REINFORCEMENT)),
        Action::MarkKeepClear => mark::aim(view, Aim::New(mark::KEEP_CLEAR)),
        Action::Grow => mark::grow(bench, 1.0),
        Action::Shrink => mark::grow(bench, -1.0),
        Action::LargerBrush => view.brush_mm = (view.brush_mm * 1.15).min(80.0),
        Action::SmallerBrush => view.brush_mm = (view.brush_mm / 1.15).max(2.0),
        // An outline that is being set is given up first.
        Action::Stop if !view.marking.open.is_empty() => view.marking.open.clear(),
        Action::Stop => {
            bench.session.stop();
            bench.files.drawing.stop();
        }
        Action::List => view.actions_open = !view.actions_open,
        Action::Settings => view.settings_open = !view.settings_open,
        Action::Open => bench.choose(Purpose::Open),
        Action::SaveAs => {
            if bench.session.document().is_some() {
                bench.choose(Purpose::SaveAs);
            }
        }
        Action::Demo => bench.go_on_to(Next::Demo),
        Action::Export => crate::panel::print::export(bench),
        Action::OpenFolder => crate::panel::print::open_folder(bench),
        Action::TakeUp => {
            if let Some(leftover) = bench.session.leftovers().first().cloned() {
                bench.go_on_to(Next::TakeUp(leftover));
            }
        }
        Action::OpenArrived => {
            if let Some(path) = bench.files.arrived.take() {
                bench.go_on_to(Next::Open(path));
            }
        }
        Action::CleanStage => {
            view.step = Step::Show;
            view.show.clean = !view.show.clean;
        }
        Action::SavePicture => bench.choose(Purpose::Draw(Drawn::Photo)),
        Action::SaveTurn => bench.choose(Purpose::Draw(Drawn::Turn)),
        Action::TurnSlowly => {
            view.step = Step::Show;
            view.show.turning = !view.show.turning;
        }
        Action::Close => bench.go_on_to(Next::Close),
    }
}
