//! The settings of the strap, fitting, number or word that is chosen.

use bevy_egui::egui::{TextEdit, Ui};
use shell::limits::{self, Limit};
use shell::{Fitting, FittingKind, Mark, MarkKind, Picture};

use super::Panel;
use super::items::name;
use crate::commands::shell::items::pose;
use crate::look::{self, Setting, field};
use crate::state::shell::Item;

/// Shows them.
pub(super) fn show(ui: &mut Ui, panel: &mut Panel<'_, '_>) {
    let design = panel.design;
    match panel.desk.view.shell.chosen {
        Some(Item::Fitting(n)) => {
            let Some(fitting) = design.shell.fittings.get(n) else { return };
            look::section(ui, &format!("{}  {}", n + 1, name(&fitting.kind)));
            fitting_settings(ui, panel, n, fitting);
        }
        Some(Item::Mark(n)) => {
            let Some(mark) = design.shell.marks.get(n) else { return };
            look::section(ui, "This number or word");
            mark_settings(ui, panel, n, mark);
        }
        Some(Item::Picture(n)) => {
            let Some(picture) = design.shell.pictures.get(n) else { return };
            look::section(ui, "This picture");
            picture_settings(ui, panel, n, picture);
        }
        None => {}
    }
}

/// A slider of one number of a thing on the shell.
fn number(
    ui: &mut Ui,
    panel: &mut Panel<'_, '_>,
    what: (&str, &str),
    limit: &Limit,
    least: f32,
    value: f32,
    set: impl FnOnce(&mut shell::Design, f32),
) {
    let (name, unit) = what;
    let mut new = value;
    let step = if unit == "mm" { 0.1 } else { 1.0 };
    let range = limit.least.max(least)..=limit.most;
    let moved = Setting::new(name, unit, range).step(step).show(ui, &mut new);
    if moved.changed {
        panel.desk.bench.session.edit_live(&name.to_lowercase(), |design| set(&mut design.shell, new));
    }
    if moved.let_go {
        panel.desk.bench.session.settle();
    }
}

fn turn(ui: &mut Ui, panel: &mut Panel<'_, '_>, item: Item, turn_deg: f32) {
    let half = Limit { least: -180.0, most: 180.0, ..limits::FITTING_TURN };
    number(ui, panel, ("Turn", "°"), &half, -180.0, turn_deg, |shell, deg| {
        if let Some((_, turn_deg)) = pose(shell, item) {
            *turn_deg = deg;
        }
    });
}

fn fitting_settings(ui: &mut Ui, panel: &mut Panel<'_, '_>, n: usize, fitting: &Fitting) {
    macro_rules! length {
        ($name:literal, $limit:expr, $least:expr, $kind:ident, $field:ident) => {
            number(ui, panel, ($name, "mm"), &$limit, $least, $field, |shell, mm| {
                if let Some(FittingKind::$kind { $field, .. }) = shell.fittings.get_mut(n).map(|f| &mut f.kind) {
                    *$field = mm;
                }
            })
        };
    }
    match fitting.kind {
        FittingKind::StrapSlot { strap_mm, opening_mm } => {
            strap_width(ui, panel, n, strap_mm);
            length!("Slot opening", limits::STRAP_OPENING, 0.0, StrapSlot, opening_mm);
        }
        FittingKind::LaceHoles { count, hole_mm, pitch_mm } => {
            number(ui, panel, ("Holes", ""), &limits::LACE_COUNT, 1.0, count as f32, |shell, new| {
                if let Some(FittingKind::LaceHoles { count, .. }) = shell.fittings.get_mut(n).map(|f| &mut f.kind) {
                    *count = new.round().clamp(1.0, 40.0) as u32;
                }
            });
            number(ui, panel, ("Hole width", "mm"), &limits::LACE_HOLE, 0.0, hole_mm, |shell, mm| {
                if let Some(FittingKind::LaceHoles { hole_mm, pitch_mm, .. }) =
                    shell.fittings.get_mut(n).map(|f| &mut f.kind)
                {
                    *hole_mm = mm;
                    *pitch_mm = pitch_mm.max(limits::least_lace_pitch_mm(mm));
                }
            });
            length!("Centre to centre", limits::LACE_PITCH, limits::least_lace_pitch_mm(hole_mm), LaceHoles, pitch_mm);
        }
        FittingKind::TieSlot { tie_mm, bridge_mm } => {
            length!("Tie width", limits::TIE, 0.0, TieSlot, tie_mm);
            length!("Plastic between", limits::TIE_BRIDGE, 0.0, TieSlot, bridge_mm);
        }
        FittingKind::StitchHoles { hole_mm, pitch_mm, inset_mm } => {
            let shell = &panel.design.shell;
            let least_inset = limits::least_stitch_inset_mm(hole_mm, shell);
            number(ui, panel, ("Hole width", "mm"), &limits::STITCH_HOLE, 0.0, hole_mm, |shell, mm| {
                let least = limits::least_stitch_inset_mm(mm, shell);
                if let Some(FittingKind::StitchHoles { hole_mm, pitch_mm, inset_mm }) =
                    shell.fittings.get_mut(n).map(|f| &mut f.kind)
                {
                    *hole_mm = mm;
                    *pitch_mm = pitch_mm.max(limits::least_stitch_pitch_mm(mm));
                    *inset_mm = inset_mm.max(least);
                }
            });
            let least_pitch = limits::least_stitch_pitch_mm(hole_mm);
            length!("Centre to centre", limits::STITCH_PITCH, least_pitch, StitchHoles, pitch_mm);
            length!("Inside the edge", limits::STITCH_INSET, least_inset, StitchHoles, inset_mm);
            return;
        }
        FittingKind::HookAndLoopSeat { length_mm, width_mm, depth_mm } => {
            length!("Length", limits::SEAT_LENGTH, 0.0, HookAndLoopSeat, length_mm);
            length!("Width", limits::SEAT_WIDTH, 0.0, HookAndLoopSeat, width_mm);
            let deepest = limits::most_sunk_mm(&panel.design.shell);
            let depth = Limit { most: limits::SEAT_DEPTH.most.min(deepest), ..limits::SEAT_DEPTH };
            length!("Depth", depth, 0.0, HookAndLoopSeat, depth_mm);
        }
        _ => {}
    }
    if fitting.is_following() {
        return following(ui, panel);
    }
    turn(ui, panel, Item::Fitting(n), fitting.turn_deg);
}

/// The width of the strap of a slot: one of the usual, or any.
fn strap_width(ui: &mut Ui, panel: &mut Panel<'_, '_>, n: usize, strap_mm: f32) {
    let mut width = limits::STRAP_WIDTHS_MM.into_iter().find(|w| *w == strap_mm).map(|w| w as u32);
    let names = limits::STRAP_WIDTHS_MM.map(|w| format!("{w} mm"));
    let usual = [0, 1, 2].map(|i| (Some(limits::STRAP_WIDTHS_MM[i] as u32), names[i].as_str()));
    if look::choice(ui, &mut width, &usual)
        && let Some(width) = width
    {
        panel.edit("strap width", |shell| set_strap_mm(shell, n, width as f32));
    }
    number(ui, panel, ("Strap width", "mm"), &limits::STRAP, 0.0, strap_mm, |shell, mm| set_strap_mm(shell, n, mm));
}

/// What all slots that the program places have in common.
fn following(ui: &mut Ui, panel: &mut Panel<'_, '_>) {
    let pull_n = panel.design.shell.strap_pull_n;
    number(ui, panel, ("Holds a pull of", "N"), &limits::STRAP_PULL, 0.0, pull_n, |shell, n| {
        shell.strap_pull_n = n.round();
    });
    look::remark(ui, "Placed for each zone, wall and strap anew. Drag one, and all slots are where you put them.");
}

/// Sets the strap of a slot; of one that follows, that of all that do.
fn set_strap_mm(shell: &mut shell::Design, n: usize, mm: f32) {
    let follows = shell.fittings.get(n).is_some_and(Fitting::is_following);
    for (number, fitting) in shell.fittings.iter_mut().enumerate() {
        let meant = number == n || follows && fitting.is_following();
        if let FittingKind::StrapSlot { strap_mm, .. } = &mut fitting.kind
            && meant
        {
            *strap_mm = mm;
        }
    }
}

fn mark_settings(ui: &mut Ui, panel: &mut Panel<'_, '_>, n: usize, mark: &Mark) {
    let mut text = mark.text.clone();
    let field = look::steady(ui, "text", |ui| {
        field(ui, TextEdit::singleline(&mut text).char_limit(limits::LONGEST_TEXT).desired_width(f32::INFINITY))
    });
    if field.changed() && !text.trim().is_empty() {
        panel.desk.bench.session.edit_live("text", |design| {
            if let Some(mark) = design.shell.marks.get_mut(n) {
                mark.text = text;
            }
        });
    }
    if field.lost_focus() {
        panel.desk.bench.session.settle();
    }
    number(ui, panel, ("Height", "mm"), &limits::MARK_HEIGHT, 0.0, mark.height_mm, |shell, mm| {
        if let Some(mark) = shell.marks.get_mut(n) {
            mark.height_mm = mm;
        }
    });
    let sunk = mark.relief_mm < 0.0;
    let mut way = (mark.kind, mark.kind == MarkKind::Relief && sunk);
    let ways = [
        ((MarkKind::Relief, false), "Raised"),
        ((MarkKind::Relief, true), "Sunk"),
        ((MarkKind::CutThrough, false), "Cut out"),
        ((MarkKind::Inlay, false), "Inlay"),
    ];
    if look::choice(ui, &mut way, &ways) {
        panel.edit("how it is made", |shell| {
            let deepest = limits::most_sunk_mm(shell).min(-limits::MARK_RELIEF.least);
            if let Some(mark) = shell.marks.get_mut(n) {
                let size = mark.relief_mm.abs();
                mark.kind = way.0;
                mark.relief_mm = match way {
                    (MarkKind::Relief, true) => -size.min(deepest),
                    (MarkKind::Inlay, _) => -size.clamp(limits::LEAST_INLAY_MM, deepest.max(limits::LEAST_INLAY_MM)),
                    _ => size,
                };
            }
        });
    }
    match mark.kind {
        MarkKind::CutThrough => {
            look::remark(ui, "Bridges hold what a letter encloses.");
            turn(ui, panel, Item::Mark(n), mark.turn_deg);
            return;
        }
        MarkKind::Inlay => inlay_colour(ui, panel),
        MarkKind::Relief => {}
    }
    let deepest = limits::most_sunk_mm(&panel.design.shell).min(-limits::MARK_RELIEF.least);
    let most = if sunk { deepest } else { limits::MARK_RELIEF.most };
    let inlay = mark.kind == MarkKind::Inlay;
    let least = if inlay { limits::LEAST_INLAY_MM } else { limits::LEAST_RELIEF_MM };
    let limit = Limit { least, most: most.max(least), ..limits::MARK_RELIEF };
    let by = if sunk { "Sunk by" } else { "Raised by" };
    number(ui, panel, (by, "mm"), &limit, 0.0, mark.relief_mm.abs(), |shell, mm| {
        if let Some(mark) = shell.marks.get_mut(n) {
            mark.relief_mm = if sunk { -mm } else { mm };
        }
    });
    turn(ui, panel, Item::Mark(n), mark.turn_deg);
}

/// The colour of all inlays: what is printed in it is the second body.
fn inlay_colour(ui: &mut Ui, panel: &mut Panel<'_, '_>) {
    let mut colour = panel.design.look.clone().unwrap_or_default().inlay_colour;
    let before = colour;
    ui.horizontal(|ui| {
        ui.label("Its colour");
        ui.color_edit_button_srgb(&mut colour);
    });
    if colour != before {
        panel.desk.bench.session.edit_live("colour of the inlay", |design| {
            design.look.get_or_insert_default().inlay_colour = colour;
        });
    } else if !ui.input(|i| i.pointer.any_down()) {
        panel.desk.bench.session.settle();
    }
}

fn picture_settings(ui: &mut Ui, panel: &mut Panel<'_, '_>, n: usize, picture: &Picture) {
    number(ui, panel, ("Width", "mm"), &limits::PICTURE_WIDTH, 0.0, picture.width_mm, |shell, mm| {
        if let Some(picture) = shell.pictures.get_mut(n) {
            picture.width_mm = mm;
        }
    });
    number(ui, panel, ("Raised by", "mm"), &limits::PICTURE_RELIEF, 0.0, picture.relief_mm, |shell, mm| {
        if let Some(picture) = shell.pictures.get_mut(n) {
            picture.relief_mm = mm;
        }
    });
    turn(ui, panel, Item::Picture(n), picture.turn_deg);
}
