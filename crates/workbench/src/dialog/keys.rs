//! The list of all actions with their keys, in the window, a group for each step.

use bevy_egui::egui::{self, Align, Align2, Context, Label, Layout, RichText, ScrollArea, Sense, TextStyle, Ui, vec2};

use crate::actions::Action;
use crate::desk::Desk;
use crate::look;
use crate::state::Step;

/// Width of a column.
const COLUMN: f32 = 372.0;
/// Between two columns.
const BETWEEN: f32 = 22.0;

/// What the mouse and held keys do.
const HELD: [(&str, &str); 5] = [
    ("Turn the limb", "right button, or arrows"),
    ("Move it aside", "middle button"),
    ("Nearer, farther", "wheel, or = and −"),
    ("Nearer while painting", "Alt and wheel"),
    ("Any button or field", "Tab to it, then Enter"),
];

/// Shows the list; whether it stays open. It closes by its key, by Esc or its cross.
pub fn show(ctx: &Context, desk: &mut Desk<'_>) -> bool {
    let mut open = true;
    let room = ctx.content_rect().size() - vec2(40.0, 96.0);
    let columns = (((room.x - 8.0) / (COLUMN + BETWEEN)).floor() as usize).clamp(1, 3);
    // The scroll bar runs in the space after the last column.
    let width = (COLUMN + BETWEEN) * columns as f32 + 8.0;
    egui::Window::new("Keys")
        .open(&mut open)
        .collapsible(false)
        .resizable(false)
        .anchor(Align2::CENTER_CENTER, vec2(0.0, 0.0))
        .fixed_size(vec2(width, room.y - 40.0))
        .show(ctx, |ui| {
            ScrollArea::vertical().auto_shrink([false, true]).show(ui, |ui| {
                ui.spacing_mut().item_spacing = vec2(BETWEEN, 1.0);
                ui.horizontal_top(|ui| {
                    ui.add_space(8.0);
                    for groups in dealt(columns) {
                        ui.vertical(|ui| {
                            ui.set_width(COLUMN);
                            for group in groups {
                                show_group(ui, desk, group);
                            }
                        });
                    }
                });
            });
        });
    open
}

/// All groups, the general one first.
fn groups() -> Vec<Option<Step>> {
    std::iter::once(None).chain(Step::ALL.map(Some)).collect()
}

fn lines(group: Option<Step>) -> usize {
    let heading = 2;
    let held = if group.is_none() { HELD.len() } else { 0 };
    heading + held + Action::ALL.iter().filter(|action| action.step() == group).count()
}

/// The groups, in order, dealt to columns of about equal length.
fn dealt(columns: usize) -> Vec<Vec<Option<Step>>> {
    let all = groups();
    let total: usize = all.iter().map(|group| lines(*group)).sum();
    let mut dealt = vec![Vec::new(); columns];
    let mut before = 0;
    for group in all {
        // By the middle of the group, so that none stands mostly beyond its column's share.
        let middle = before + lines(group) / 2;
        let column = (middle * columns / total.max(1)).min(columns - 1);
        if let Some(column) = dealt.get_mut(column) {
            column.push(group);
        }
        before += lines(group);
    }
    dealt
}

fn show_group(ui: &mut Ui, desk: &mut Desk<'_>, group: Option<Step>) {
    look::section(ui, group.map_or("In every step", Step::name));
    for action in Action::ALL.iter().copied().filter(|action| action.step() == group) {
        if line(ui, action.name(), &action.keys(), true) {
            desk.asked.0.push(action);
        }
    }
    if group.is_none() {
        for (what, how) in HELD {
            line(ui, what, how, false);
        }
    }
}

/// One line: what it does and its key; whether it was pressed.
fn line(ui: &mut Ui, what: &str, key: &str, presses: bool) -> bool {
    let colours = look::palette(ui.ctx());
    let height = TextStyle::Body.resolve(ui.style()).size + 6.0;
    let mut pressed = false;
    ui.allocate_ui_with_layout(vec2(COLUMN, height), Layout::left_to_right(Align::Center), |ui| {
        let sense = if presses { Sense::click() } else { Sense::hover() };
        let response = ui.add(Label::new(RichText::new(what).size(14.0)).selectable(false).sense(sense));
        if presses && (response.hovered() || response.has_focus()) {
            ui.painter().hline(response.rect.x_range(), response.rect.bottom(), (1.0, colours.accent));
        }
        pressed = response.clicked();
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            ui.add(Label::new(look::bold(key).size(13.5).color(colours.accent)).selectable(false));
        });
    });
    pressed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_group_is_in_one_column_in_order_and_columns_are_about_even() {
        for columns in 1..=3 {
            let dealt = dealt(columns);
            assert_eq!(dealt.concat(), groups());
            let lengths: Vec<usize> = dealt.iter().map(|c| c.iter().map(|g| lines(*g)).sum()).collect();
            let even = lengths.iter().sum::<usize>() / columns;
            assert!(lengths.iter().all(|l| *l > 0 && *l < even * 3 / 2), "{lengths:?}");
        }
    }
}
