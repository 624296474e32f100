//! The zone step: what is to be covered, and the special spots.

use std::sync::Arc;

use bevy_egui::egui::{self, Ui};
use scan::pen::PenFinding;
use session::{capitalised, marking};
use zone::{ExtraRegion, RegionKind, Source, limits};

use crate::actions::Action;
use crate::commands::zone as commands;
use crate::desk::Desk;
use crate::look::icons::Icon;
use crate::look::regions::{Pattern, pattern};
use crate::look::{
    Setting, choice_with_signs, figure, listed, primary, problem, remark, reserved, section, section_with_sign, sign,
    title, tool,
};
use crate::state::Tool;
use crate::state::zone::{Aim, BRUSH_MM, CREASE_MM, KEEP_CLEAR, REINFORCEMENT, RELIEF, kind_name};

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    title(ui, "Zone");
    if desk.bench.session.design().is_none() {
        remark(ui, "Open a scan first; then mark here what the guard is to cover.");
        return;
    }
    let opened = desk.bench.session.opened();
    reserved(ui, "figures", opened, 66.0, |ui| figures(ui, desk));
    reserved(ui, "pen line", opened, 92.0, |ui| pen_line(ui, desk));
    section(ui, "Mark by hand");
    let was = desk.view.tool;
    let tools = [
        (Tool::Paint, Some(Icon::Paint), "Paint"),
        (Tool::Erase, Some(Icon::Erase), "Erase"),
        (Tool::Outline, Some(Icon::Outline), "Outline"),
        (Tool::Crease, Some(Icon::Crease), "Crease"),
        (Tool::Turn, Some(Icon::Turn), "Turn"),
    ];
    choice_with_signs(ui, &mut desk.view.tool, &tools);
    if desk.view.tool != was {
        desk.view.zone.open.clear();
    }
    reserved(ui, "tool", opened, 104.0, |ui| match desk.view.tool {
        Tool::Paint | Tool::Erase => {
            Setting::new("Brush radius", "mm", BRUSH_MM.0..=BRUSH_MM.1)
                .step(0.5)
                .logarithmic()
                .show(ui, &mut desk.view.brush_mm);
        }
        Tool::Outline => outline_help(ui, desk),
        Tool::Crease => {
            remark(ui, "Click both ends of the line where the joint folds, or draw along it.");
            Setting::new("Keep away from it by", "mm", CREASE_MM.0..=CREASE_MM.1)
                .step(0.5)
                .show(ui, &mut desk.view.zone.crease_mm);
        }
        Tool::Turn => remark(ui, "Drag to turn the limb. The right button turns it with every tool."),
    });
    edge(ui, desk);
    what(ui, desk);
    notices(ui, desk);
    remark(ui, "Medical staff mark the zone and decide about playing; this program judges no injury.");
}

fn pen_line(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(finding) = desk.bench.session.derived().pen.value().cloned() else { return };
    let taken = |line: &[nalgebra::Point3<f32>]| {
        desk.bench.session.design().is_some_and(|d| {
            d.zone.sources.iter().any(|s| matches!(s, Source::Line { points_mm, .. } if points_mm.as_slice() == line))
        })
    };
    match &*finding {
        PenFinding::Closed(line) if taken(&line.centre) => remark(ui, "The pen line is the edge of the zone."),
        PenFinding::Closed(line) => {
            remark(ui, &line.sentence);
            if primary(ui, Some(Icon::PenLine), "Take the pen line").on_hover_text(Action::TakePenLine.keys()).clicked()
            {
                desk.asked.0.push(Action::TakePenLine);
            }
        }
        PenFinding::Open { proposal: Some(proposal), .. } if taken(&proposal.line.centre) => {
            remark(ui, &format!("The pen line is the edge of the zone, closed over {:.0} mm.", proposal.added_mm));
        }
        PenFinding::Open { proposal: Some(proposal), .. } => {
            remark(
                ui,
                &format!(
                    "A pen line was found that does not close. The dashed part on the limb, {:.0} mm, would close it.",
                    proposal.added_mm
                ),
            );
            if primary(ui, Some(Icon::PenLine), "Close it as dashed")
                .on_hover_text(Action::TakePenLine.keys())
                .clicked()
            {
                desk.asked.0.push(Action::TakePenLine);
            }
        }
        PenFinding::Open { why, .. } => remark(
            ui,
            &format!("{why} It cannot be closed automatically: draw the line again and rescan, or mark the zone here."),
        ),
        PenFinding::None { why } => remark(ui, &commands::no_pen_line(*why)),
    }
    let rings = commands::rings(&desk.bench.session).len();
    if rings > 0 {
        let words =
            if rings == 1 { "Take the ring as a relief".into() } else { format!("Take {rings} rings as reliefs") };
        let button = tool(ui, Icon::Relief, &words, false);
        if button.on_hover_text(Action::TakeRings.keys()).clicked() {
            desk.asked.0.push(Action::TakeRings);
        }
    }
}

/// Bony points in the zone, offered as reliefs.
fn bony_points(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(design) = desk.bench.session.design() else { return };
    let count = desk.bench.session.derived().bare_bony_points(design).len();
    if count == 0 {
        return;
    }
    let words = match count {
        1 => "Relieve the bony point found".to_owned(),
        more => format!("Relieve {more} bony points found"),
    };
    let tip = format!(
        "Found by how the skin curves, ringed on the limb: look whether it is bone.   {}",
        Action::RelieveBonyPoints.keys()
    );
    if tool(ui, Icon::Relief, &words, false).on_hover_text(tip).clicked() {
        desk.asked.0.push(Action::RelieveBonyPoints);
    }
}

fn outline_help(ui: &mut Ui, desk: &mut Desk<'_>) {
    let count = desk.view.zone.open.len();
    let help = match count {
        0 => {
            "Click corners on the limb; they are joined over the skin. Drag a corner to move it, Delete takes it away."
        }
        1 | 2 => "Click the next corner. Delete takes the last one back.",
        _ => "Click the first corner, or press Enter, to close the outline.",
    };
    remark(ui, help);
    if count >= 3 && tool(ui, Icon::Done, "Close the outline", false).on_hover_text(Action::Confirm.keys()).clicked() {
        desk.asked.0.push(Action::Confirm);
    }
    if count == 0 && desk.view.zone.selected.is_some() {
        let button = tool(ui, Icon::Remove, "Delete the corner", false).on_hover_text(Action::Delete.keys());
        if button.clicked() {
            desk.asked.0.push(Action::Delete);
        }
    }
}

/// What brush and outline work on: the zone or one of the regions.
fn what(ui: &mut Ui, desk: &mut Desk<'_>) {
    section(ui, "What is marked");
    let Some(document) = desk.bench.session.document() else { return };
    let design = Arc::clone(document.history().now());
    let regions = &design.zone.regions;
    if let Aim::Region(i) = desk.view.zone.aim
        && i >= regions.len()
    {
        desk.view.zone.aim = Aim::Zone;
    }
    ui.horizontal_wrapped(|ui| {
        for (kind, icon, action) in [
            (RELIEF, Icon::Relief, Action::MarkRelief),
            (REINFORCEMENT, Icon::Reinforcement, Action::MarkReinforcement),
            (KEEP_CLEAR, Icon::KeepClear, Action::MarkKeepClear),
        ] {
            let chosen = desk.view.zone.aim == Aim::New(kind);
            if tool(ui, icon, kind_name(kind), chosen).on_hover_text(action.keys()).clicked() {
                commands::aim(desk.view, if chosen { Aim::Zone } else { Aim::New(kind) });
            }
        }
    });
    let now = match desk.view.zone.aim {
        Aim::New(RegionKind::Relief { .. }) => {
            "Now paint the bony point, wound or stitches that need room under the shell."
        }
        Aim::New(RegionKind::Reinforcement { .. }) => "Now paint where the wall is to be thicker.",
        Aim::New(_) => "Now paint the skin that must stay uncovered.",
        _ => "Each is marked like the zone.",
    };
    reserved(ui, "what to paint", 0, 40.0, |ui| remark(ui, now));
    reserved(ui, "bony points", 0, 36.0, |ui| bony_points(ui, desk));
    if listed(ui, desk.view.zone.aim == Aim::Zone, None, "The zone: what is covered")
        .on_hover_text(Action::MarkZone.keys())
        .clicked()
    {
        commands::aim(desk.view, Aim::Zone);
    }
    for (i, region) in regions.iter().enumerate() {
        row(ui, desk, i, region);
    }
    // The settings of one of them come and go, so they stand below all of them.
    if let Aim::Region(i) = desk.view.zone.aim
        && let Some(region) = regions.get(i)
    {
        settings(ui, desk, i, region);
    }
}

/// Settings of a region, each with its tooltip.
const EXTRA_GAP: (&str, &str) =
    ("Extra gap", "How much further the shell stands off the skin here than elsewhere (the depth of the relief).");
const EXTRA_WALL: (&str, &str) = ("Extra wall", "How much thicker the wall is here than elsewhere.");
const SLOPE: (&str, &str) =
    ("Transition width", "Over this width outside the painted spot the extra goes down to nothing.");
const MARGIN: (&str, &str) = ("Margin", "How far the edge of the shell keeps away from the painted spot.");

fn row(ui: &mut Ui, desk: &mut Desk<'_>, i: usize, region: &ExtraRegion) {
    let aimed = desk.view.zone.aim == Aim::Region(i);
    ui.horizontal(|ui| {
        swatch(ui, pattern(region.kind), &marking::letter(i));
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            if sign(ui, Icon::Remove, &format!("Delete the region   {}", Action::RemoveRegion.keys())).clicked() {
                desk.view.zone.aim = Aim::Region(i);
                desk.asked.0.push(Action::RemoveRegion);
            }
            if listed(ui, aimed, None, kind_name(region.kind)).on_hover_text(Action::NextRegion.keys()).clicked() {
                commands::aim(desk.view, Aim::Region(i));
            }
        });
    });
}

/// The settings of a region.
fn settings(ui: &mut Ui, desk: &mut Desk<'_>, i: usize, region: &ExtraRegion) {
    section(ui, &format!("{}  {}", marking::letter(i), kind_name(region.kind)));
    let mut kind = region.kind;
    let mut moved = crate::look::Moved::default();
    let mut set = |ui: &mut Ui, (name, tip): (&str, &str), range: std::ops::RangeInclusive<f32>, value: &mut f32| {
        let now = Setting::new(name, "mm", range).tip(tip).show(ui, value);
        moved.changed |= now.changed;
        moved.let_go |= now.let_go;
    };
    match &mut kind {
        RegionKind::Relief { depth_mm, falloff_mm } => {
            set(ui, EXTRA_GAP, limits::RELIEF_DEPTH.range(), depth_mm);
            set(ui, SLOPE, limits::FALLOFF.range(), falloff_mm);
        }
        RegionKind::Reinforcement { extra_mm, falloff_mm } => {
            set(ui, EXTRA_WALL, limits::REINFORCEMENT.range(), extra_mm);
            set(ui, SLOPE, limits::FALLOFF.range(), falloff_mm);
        }
        RegionKind::KeepClear { margin_mm } => set(ui, MARGIN, limits::MARGIN.range(), margin_mm),
        _ => {}
    }
    if moved.changed {
        desk.bench.session.edit_live("region", |design| {
            if let Some(region) = design.zone.regions.get_mut(i) {
                region.kind = kind;
            }
        });
    }
    if moved.let_go {
        desk.bench.session.settle();
    }
}

/// The pattern of a region as on the limb, and its letter.
fn swatch(ui: &mut Ui, pattern: Pattern, letter: &str) {
    let (rect, _) = ui.allocate_exact_size(egui::vec2(26.0, 26.0), egui::Sense::hover());
    let [one, two] = pattern.colours().map(|[r, g, b]| egui::Color32::from(egui::Rgba::from_rgb(r, g, b)));
    let painter = ui.painter().with_clip_rect(rect);
    painter.rect_filled(rect, 5.0, one);
    for i in 0..7 {
        let y = rect.top() + 7.5 * i as f32 - 16.0;
        let tilt = if pattern == Pattern::Stripes { 26.0 } else { 0.0 };
        if pattern != Pattern::Plain {
            let stroke = egui::Stroke::new(3.5, two);
            painter.line_segment([egui::pos2(rect.left(), y + tilt), egui::pos2(rect.right(), y)], stroke);
        }
    }
    painter.circle_filled(rect.center(), 9.0, egui::Color32::from_rgb(0xff, 0xfd, 0xf8));
    let font = egui::FontId::proportional(if letter.len() > 1 { 10.5 } else { 13.0 });
    painter.text(rect.center(), egui::Align2::CENTER_CENTER, letter, font, egui::Color32::from_rgb(0x2b, 0x27, 0x21));
}

fn edge(ui: &mut Ui, desk: &mut Desk<'_>) {
    section_with_sign(ui, Icon::Smooth, "Edge");
    let Some(design) = desk.bench.session.design() else { return };
    let (mut grow_mm, mut smooth_mm, mut off_mm) =
        (design.zone.grow_mm, design.zone.smooth_mm, design.zone.tolerance_mm);
    let moved = Setting::new("Grow or shrink", "mm", limits::GROW.range()).step(0.5).show(ui, &mut grow_mm);
    if moved.changed {
        desk.bench.session.edit_live("grow or shrink", |design| design.zone.grow_mm = grow_mm);
    }
    let made_fair = Setting::new("May leave the drawn line by", "mm", limits::TOLERANCE.range())
        .step(0.5)
        .tip("The trim line becomes an even curve that stays this near to what was drawn; 0 keeps it as drawn.")
        .show(ui, &mut off_mm);
    if made_fair.changed {
        desk.bench.session.edit_live("evenness of the edge", |design| design.zone.tolerance_mm = off_mm);
    }
    let smoothed =
        Setting::new("Round its corners to", "mm", limits::SMOOTH.range()).step(0.5).show(ui, &mut smooth_mm);
    if smoothed.changed {
        desk.bench.session.edit_live("smooth the edge", |design| design.zone.smooth_mm = smooth_mm);
    }
    if moved.let_go || made_fair.let_go || smoothed.let_go {
        desk.bench.session.settle();
    }
    let pulls = desk.bench.session.design().map_or(0, |d| d.zone.pulls.len());
    if pulls > 0 {
        ui.horizontal(|ui| {
            ui.label(if pulls == 1 {
                "Pulled by hand once".to_owned()
            } else {
                format!("Pulled by hand {pulls} times")
            });
            if ui.button("Let it go back").on_hover_text("The edge runs as it was marked again.").clicked() {
                desk.bench.session.edit("let the trim line go back", |design| design.zone.pulls.clear());
            }
        });
    }
}

/// The size of the zone, or why there is none yet.
fn figures(ui: &mut Ui, desk: &mut Desk<'_>) {
    let derived = desk.bench.session.derived();
    let Some(design) = desk.bench.session.design() else { return };
    let marked = !design.zone.sources.is_empty();
    // Where only regions are marked there is no zone yet, but they may be wrong.
    let wrong = if marked { derived.zone.problem() } else { derived.sketch.problem() };
    if !marked && wrong.is_none() {
        remark(ui, "Nothing is marked yet.");
        return;
    }
    if let Some(wrong) = wrong {
        problem(ui, &capitalised(&wrong.sentence));
        return;
    }
    let Some(extent) = derived.extent.value().and_then(|e| **e) else {
        remark(ui, "Being worked out…");
        return;
    };
    figure(ui, "Covered", &format!("{:.0} cm², {:.0} mm long", extent.area_cm2, extent.length_mm));
    figure(ui, "Greatest share of girth", &format!("{:.0} %", 100.0 * extent.widest.share));
}

/// Notices about the zone.
fn notices(ui: &mut Ui, desk: &Desk<'_>) {
    let derived = desk.bench.session.derived();
    let marked = desk.bench.session.design().is_some_and(|design| !design.zone.sources.is_empty());
    let zone = derived.zone.value().filter(|_| marked && derived.zone.problem().is_none());
    if let Some(extent) = derived.extent.value().and_then(|e| **e).filter(|_| zone.is_some()) {
        remark(
            ui,
            &format!("{} of the limb's {:.0} mm girth.", round_in_words(extent.widest.share), extent.widest.around_mm),
        );
    }
    for notice in zone.map(|z| z.notices.as_slice()).unwrap_or_default() {
        remark(ui, &capitalised(notice));
    }
}

/// How much of the circumference is covered, and what it means for putting the guard on.
fn round_in_words(share: f32) -> &'static str {
    match share {
        ..0.3 => "A plate: covers less than a third",
        ..0.55 => "A half shell: covers up to about half",
        ..0.75 => "It wraps round and has to spring open to go on: covers more than half",
        ..0.97 => "It nearly closes and goes on only if it is soft or slides over the end: covers most",
        _ => "It closes all round and must slide over the end: covers all",
    }
}
