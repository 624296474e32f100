//! Straps, holes, seats and numbers: adding by a click on the limb, and the list of what is there.

use bevy_egui::egui::{TextEdit, Ui};
use shell::{FittingKind, limits};

use super::Panel;
use super::problem::Home;
use crate::actions::Action;
use crate::commands::shell::items::{new_fittings, remove};
use crate::commands::shell::place_action;
use crate::look;
use crate::look::icons::Icon;
use crate::state::shell::{Item, Placing};

/// Lines kept for what is wrong with a thing that has no room, and what has.
const LINES_WITH_A_WAY_OUT: usize = 5;

/// The sign of a kind of fitting.
fn sign(kind: &FittingKind) -> Icon {
    match kind {
        FittingKind::LaceHoles { .. } => Icon::Lace,
        FittingKind::TieSlot { .. } => Icon::Tie,
        FittingKind::StitchHoles { .. } => Icon::Stitch,
        FittingKind::HookAndLoopSeat { .. } => Icon::Seat,
        _ => Icon::Strap,
    }
}

/// What a fitting is called.
pub(super) fn name(kind: &FittingKind) -> String {
    match kind {
        FittingKind::StrapSlot { strap_mm, .. } => format!("Strap slot, {strap_mm} mm"),
        FittingKind::LaceHoles { count, .. } => format!("{count} lace holes"),
        FittingKind::TieSlot { tie_mm, .. } => format!("Tie slots, {tie_mm} mm"),
        FittingKind::StitchHoles { .. } => "Stitch holes".to_owned(),
        FittingKind::HookAndLoopSeat { length_mm, width_mm, .. } => {
            format!("Hook-and-loop, {length_mm} × {width_mm} mm")
        }
        _ => "Fitting".to_owned(),
    }
}

/// Shows what can be added, then what is there, so that a longer list does not move the buttons.
pub(super) fn show(ui: &mut Ui, panel: &mut Panel<'_, '_>) {
    look::section(ui, "Straps and fittings");
    add_fitting(ui, panel);
    look::section(ui, "Number or word");
    add_mark(ui, panel);
    look::section(ui, "Raised picture");
    let zone = panel.desk.bench.session.derived().zone.value().is_some();
    let raise = ui.add_enabled_ui(zone, |ui| look::wide_button(ui, Some(Icon::Picture), "Raise a picture…")).inner;
    if raise.on_hover_text(Action::RaisePicture.keys()).clicked() {
        panel.desk.asked.0.push(Action::RaisePicture);
    }
    look::remark(ui, "PNG, JPEG or SVG: what is dark stands out.");
    look::section(ui, "On the shell");
    let wrong = panel.told.and_then(|(home, words)| matches!(home, Home::Item(_)).then_some(words.as_str()));
    let design = panel.design;
    let shell = &design.shell;
    let none = shell.fittings.is_empty() && shell.marks.is_empty() && shell.pictures.is_empty();
    let otherwise = if none { "Nothing yet." } else { "Press one, here or on the limb; its settings stand below." };
    look::noted(ui, LINES_WITH_A_WAY_OUT, wrong, otherwise);
    for (n, fitting) in design.shell.fittings.iter().enumerate() {
        row(ui, panel, Item::Fitting(n), sign(&fitting.kind), &format!("{}  {}", n + 1, name(&fitting.kind)));
    }
    for (n, mark) in design.shell.marks.iter().enumerate() {
        row(ui, panel, Item::Mark(n), Icon::Number, &mark.text);
    }
    for (n, picture) in design.shell.pictures.iter().enumerate() {
        row(ui, panel, Item::Picture(n), Icon::Picture, &picture.name);
    }
}

/// One line of the list.
fn row(ui: &mut Ui, panel: &mut Panel<'_, '_>, item: Item, icon: Icon, text: &str) {
    let wrong = panel.told.is_some_and(|(home, _)| *home == Home::Item(item));
    let chosen = &mut panel.desk.view.shell.chosen;
    let mut take_away = false;
    ui.horizontal(|ui| {
        let is_chosen = *chosen == Some(item);
        let icon = if wrong { Icon::Wrong } else { icon };
        if look::tool(ui, icon, text, is_chosen).on_hover_text(Action::NextItem.keys()).clicked() {
            *chosen = (!is_chosen).then_some(item);
        }
        take_away = look::sign(ui, Icon::Remove, "Take it away   Delete, once it is chosen").clicked();
    });
    if take_away {
        *chosen = None;
        panel.edit("take away", |shell| remove(shell, item));
    }
}

/// A button for each kind, down while one of it waits for its place.
fn add_fitting(ui: &mut Ui, panel: &mut Panel<'_, '_>) {
    let design = panel.design;
    let waits = match &panel.desk.view.shell.placing {
        Some(Placing::Fitting(kind)) => Some(place_action(kind)),
        _ => None,
    };
    ui.horizontal_wrapped(|ui| {
        let names = ["Strap slot", "Lace holes", "Tie slots", "Stitch holes", "Hook-and-loop"];
        for (kind, name) in new_fittings(design.site, &design.shell).into_iter().zip(names) {
            let action = place_action(&kind);
            if look::tool(ui, sign(&kind), name, waits == Some(action)).on_hover_text(action.keys()).clicked() {
                if waits == Some(action) {
                    panel.desk.view.shell.placing = None;
                } else {
                    panel.desk.asked.0.push(action);
                }
            }
        }
    });
    let zone = panel.desk.bench.session.derived().zone.value().is_some();
    let none = !design.shell.fittings.iter().any(|f| matches!(f.kind, FittingKind::StrapSlot { .. }));
    let suggest =
        ui.add_enabled_ui(none && zone, |ui| look::wide_button(ui, Some(Icon::Strap), "Suggest straps")).inner;
    if suggest.on_hover_text(Action::SuggestStraps.keys()).clicked() {
        panel.desk.asked.0.push(Action::SuggestStraps);
    }
    let told = if waits.is_some() { PLACE } else { "Choose one and click on the limb where it goes." };
    look::noted(ui, 2, None, told);
}

/// How a thing that waits is placed.
const PLACE: &str = "Click on the limb where it goes, or press Enter for the centre of the view; Esc gives it up.";

fn add_mark(ui: &mut Ui, panel: &mut Panel<'_, '_>) {
    let shaping = &mut panel.desk.view.shell;
    let waits = matches!(shaping.placing, Some(Placing::Mark(_)));
    let number = panel.design.squad_number.map(|number| number.to_string()).unwrap_or_default();
    ui.horizontal(|ui| {
        let mut text = shaping.text.clone().unwrap_or(number);
        let edit = TextEdit::singleline(&mut text).char_limit(limits::LONGEST_TEXT).hint_text("number or word");
        if look::steady(ui, "new text", |ui| look::field(ui, edit.desired_width(120.0))).changed() {
            shaping.text = Some(text);
        }
        if look::tool(ui, Icon::Number, "Place it", waits).on_hover_text(Action::AddNumber.keys()).clicked() {
            if waits {
                shaping.placing = None;
            } else {
                panel.desk.asked.0.push(Action::AddNumber);
            }
        }
    });
    look::noted(ui, 2, None, if waits { PLACE } else { "A squad number or a short word, never a person's name." });
}
