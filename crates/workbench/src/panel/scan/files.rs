//! Files on the panel of the scan step: unsaved work found, recent designs, the watched folder.

use bevy_egui::egui::Ui;

use crate::actions::Action;
use crate::commands::files::{go_on_to, throw_away};
use crate::desk::Desk;
use crate::look::icons::Icon;
use crate::look::{bold, listed, remark, section, section_with_sign};
use crate::state::files::Next;

/// What there is of earlier sittings, where nothing is open yet.
pub fn start(ui: &mut Ui, desk: &mut Desk<'_>) {
    recovery(ui, desk);
    recent(ui, desk);
    watched(ui, desk);
}

/// Unsaved work of a sitting that ended unexpectedly, with the choice to go on with it.
pub fn recovery(ui: &mut Ui, desk: &mut Desk<'_>) {
    for unsaved in desk.bench.session.unsaved_designs().to_vec() {
        ui.group(|ui| {
            ui.label(bold("Unsaved work was found"));
            let title = if unsaved.title.is_empty() { "A design without a title" } else { unsaved.title.as_str() };
            ui.label(title);
            if let Some(path) = &unsaved.saved_as {
                remark(ui, &format!("Last saved as {}", path.display()));
            }
            ui.horizontal(|ui| {
                if ui.button("Continue").on_hover_text(Action::Restore.keys()).clicked() {
                    go_on_to(desk.bench, desk.view, Next::Restore(unsaved.clone()));
                }
                if ui.button("Throw it away").on_hover_text(Action::ThrowAway.keys()).clicked() {
                    throw_away(desk.bench, &unsaved);
                }
            });
        });
        ui.add_space(6.0);
    }
}

/// Designs opened or saved lately.
pub fn recent(ui: &mut Ui, desk: &mut Desk<'_>) {
    let there = desk.bench.files.still_there(&desk.bench.session.preferences.recent);
    if there.is_empty() {
        return;
    }
    section(ui, "Recent designs");
    let mut pressed = None;
    for (number, path) in there.iter().take(6).enumerate() {
        let key = if number == 0 { format!("   {}", Action::OpenLatest.keys()) } else { String::new() };
        let name = path.file_stem().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        if listed(ui, false, Some(Icon::Open), &name).on_hover_text(format!("{}{key}", path.display())).clicked() {
            pressed = Some(path.clone());
        }
    }
    if let Some(path) = pressed {
        go_on_to(desk.bench, desk.view, Next::Open(path));
    }
}

/// The folder where the scanner saves.
pub fn watched(ui: &mut Ui, desk: &mut Desk<'_>) {
    section_with_sign(ui, Icon::Watch, "Scanner folder");
    match desk.bench.session.preferences.watched_folder.clone() {
        Some(folder) => {
            ui.label(format!("New scans in {} will be offered when they arrive.", folder.display()));
            ui.horizontal(|ui| {
                if ui.button("Another folder…").on_hover_text(Action::Watch.keys()).clicked() {
                    desk.asked.0.push(Action::Watch);
                }
                if ui.button("Stop watching").on_hover_text(Action::StopWatching.keys()).clicked() {
                    desk.asked.0.push(Action::StopWatching);
                }
            });
        }
        None => {
            if ui.button("Watch a folder…").on_hover_text(Action::Watch.keys()).clicked() {
                desk.asked.0.push(Action::Watch);
            }
        }
    }
}

/// The offer to open a scan that has just arrived; drawn in every step.
pub fn arrived(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(path) = desk.bench.files.arrived.clone() else { return };
    ui.horizontal(|ui| {
        let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        ui.label(bold(format!("A new scan has arrived: {name}")));
        if ui.button("Open it").on_hover_text(Action::OpenArrived.keys()).clicked() {
            desk.asked.0.push(Action::OpenArrived);
        }
        if ui.button("Not now").on_hover_text(Action::PassArrived.keys()).clicked() {
            desk.asked.0.push(Action::PassArrived);
        }
    });
}
