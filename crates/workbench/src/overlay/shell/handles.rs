//! Handles of straps, fittings and numbers: move by dragging the middle, turn by dragging the end of the arm.

use std::sync::Arc;

use bevy_egui::egui::{Align2, Color32, CursorIcon, FontId, Pos2, Rect, Sense, Shape, Stroke, Ui, Vec2};
use mesh::Surface;
use nalgebra::{Point3, Vector3};
use shell::{Fitting, FittingKind, Mark};

use crate::commands::shell::items::{pose, put, take_over};
use crate::desk::Desk;
use crate::look;
use crate::look::icons::Icon;
use crate::overlay::Sight;
use crate::state::SIGHT_MM;
use crate::state::shell::{Item, Placing};

/// Radius of a handle in the window.
const GRIP: f32 = 12.0;
/// Length of the arm that turns a thing, mm.
const ARM_MM: f32 = 30.0;
/// Why nothing is placed where there is no limb.
const MISSED: &str = "The centre of the view misses the limb. Turn the limb until it is under the centre.";

/// A thing on the skin as it is drawn.
struct Stand {
    at: Point3<f32>,
    normal: Vector3<f32>,
    /// Direction on the skin that its turn points in.
    way: Vector3<f32>,
    across: Vector3<f32>,
}

impl Stand {
    fn new(skin: &Surface, at_mm: &Point3<f32>, turn_deg: f32, lift_mm: f32) -> Option<Self> {
        let hit = shell::skin_point(skin, at_mm)?;
        let normal = skin.normal_at(&hit);
        let (around, along) = shell::skin_directions(&normal);
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        let (way, across) = (around * cos + along * sin, along * cos - around * sin);
        Some(Self { at: hit.point + normal * lift_mm, normal, way, across })
    }

    fn point(&self, u: f32, v: f32) -> Point3<f32> {
        self.at + self.way * u + self.across * v
    }
}

/// The angle of a direction on the skin from *around* towards *along*, to a whole degree.
pub fn turn_deg(normal: &Vector3<f32>, way: &Vector3<f32>) -> f32 {
    let (around, along) = shell::skin_directions(normal);
    along.dot(way).atan2(around.dot(way)).to_degrees().round()
}

/// Outlines of a fitting in its own directions, mm.
fn outline(kind: &FittingKind) -> Vec<Vec<[f32; 2]>> {
    let block = |u: f32, v: f32, middle: f32| {
        let corner = |a: f32, b: f32| [a * 0.5 * u, middle + b * 0.5 * v];
        vec![corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)]
    };
    let hole = |middle: f32, width: f32| {
        let at = |i: usize| (std::f32::consts::TAU * i as f32 / 16.0).sin_cos();
        (0..16).map(|i| [middle + 0.5 * width * at(i).1, 0.5 * width * at(i).0]).collect()
    };
    match *kind {
        FittingKind::StrapSlot { strap_mm, opening_mm } => vec![block(strap_mm, opening_mm, 0.0)],
        FittingKind::LaceHoles { count, hole_mm, pitch_mm } => {
            let first = -0.5 * (count.max(1) - 1) as f32 * pitch_mm;
            (0..count).map(|i| hole(first + i as f32 * pitch_mm, hole_mm)).collect()
        }
        FittingKind::TieSlot { tie_mm, bridge_mm } => {
            let off = 0.5 * bridge_mm + 1.2;
            vec![block(tie_mm, 2.4, off), block(tie_mm, 2.4, -off)]
        }
        FittingKind::HookAndLoopSeat { length_mm, width_mm, .. } => vec![block(length_mm, width_mm, 0.0)],
        _ => vec![hole(0.0, 8.0)],
    }
}

/// Draws the handles and moves what is dragged.
pub fn show(ui: &mut Ui, sight: &Sight, desk: &mut Desk<'_>) {
    let derived = desk.bench.session.derived();
    let (Some(limb), Some(document)) = (derived.limb.value().cloned(), desk.bench.session.document()) else { return };
    let design = Arc::clone(document.history().now());
    let skin = &limb.skin;
    let shell = &design.shell;
    let lift_mm = shell.gap_mm + shell.thickness_mm;
    if let Some(place) = derived.problem().and_then(|problem| problem.place) {
        mark_problem(ui, sight, &place);
    }
    if desk.view.shell.placing.is_some() {
        place(ui, sight, desk, skin, lift_mm);
        return;
    }
    let placed = placed(desk);
    let own = shell.fittings.iter().enumerate().filter(|(_, fitting)| !fitting.is_following());
    let following = placed.iter().filter(|(_, fitting)| fitting.is_following()).map(|(n, fitting)| (*n, fitting));
    let known = |n: usize| n < shell.fittings.len();
    let all = own.chain(following.filter(|(n, _)| known(*n)));
    let fittings = all.map(|(n, Fitting { kind, at_mm, turn_deg, .. })| {
        let shape = Handled {
            lines: outline(kind),
            turns: !matches!(kind, FittingKind::StitchHoles { .. }),
            stays: matches!(kind, FittingKind::StrapSlot { .. }),
        };
        (Item::Fitting(n), *at_mm, *turn_deg, shape)
    });
    let marks = shell.marks.iter().enumerate().map(|(n, Mark { text, height_mm, at_mm, turn_deg, .. })| {
        let wide = 0.62 * height_mm * text.chars().count() as f32;
        let seat = FittingKind::HookAndLoopSeat { length_mm: wide, width_mm: *height_mm, depth_mm: 0.0 };
        (Item::Mark(n), *at_mm, *turn_deg, Handled { lines: outline(&seat), turns: true, stays: false })
    });
    let pictures = shell.pictures.iter().enumerate().map(|(n, picture)| {
        let upright = picture.tones.rows() as f32 / picture.tones.columns.max(1) as f32;
        let width_mm = picture.width_mm * upright;
        let seat = FittingKind::HookAndLoopSeat { length_mm: picture.width_mm, width_mm, depth_mm: 0.0 };
        let shape = Handled { lines: outline(&seat), turns: true, stays: false };
        (Item::Picture(n), picture.at_mm, picture.turn_deg, shape)
    });
    for (item, at_mm, turn, shape) in fittings.chain(marks).chain(pictures) {
        let Some(stand) = Stand::new(skin, &at_mm, turn, lift_mm) else { continue };
        if sight.faces(&stand.at, &stand.normal) {
            handle(ui, sight, desk, skin, &Handle { item, stand, shape });
        }
    }
}

/// The fittings where the shell that is shown has them.
fn placed(desk: &Desk<'_>) -> Vec<(usize, Fitting)> {
    let session = &desk.bench.session;
    let shell = session.design().and_then(|design| session.derived().best_shell(design));
    shell.map_or_else(Vec::new, |shell| shell.layout.fittings.clone())
}

/// The handle of a thing on the skin.
struct Handle {
    item: Item,
    stand: Stand,
    shape: Handled,
}

/// The shape of a handle's thing, and what can be done with it.
struct Handled {
    /// Its outline, in its own directions.
    lines: Vec<Vec<[f32; 2]>>,
    /// It can be turned.
    turns: bool,
    /// Its outline is always shown and can be clicked, so that a strap slot is not mistaken for a slot-shaped vent.
    stays: bool,
}

fn handle(ui: &mut Ui, sight: &Sight, desk: &mut Desk<'_>, skin: &Surface, handle: &Handle) {
    let Handle { item, stand, shape: Handled { lines, turns, stays } } = handle;
    let item = *item;
    let colours = look::palette(ui.ctx());
    let chosen = desk.view.shell.chosen == Some(item);
    let Some(at) = sight.see(&stand.at) else { return };
    let seen = |line: &Vec<[f32; 2]>| -> Option<Vec<Pos2>> {
        line.iter().map(|[u, v]| sight.see(&stand.point(*u, *v))).collect()
    };
    let seen: Vec<Vec<Pos2>> = lines.iter().filter_map(seen).collect();
    if *stays && ui.interact(around(&seen), ui.id().with(("outline", key(item))), Sense::click()).clicked() {
        desk.view.shell.chosen = Some(item);
    }
    let grip = ui.interact(
        Rect::from_center_size(at, Vec2::splat(2.4 * GRIP)),
        ui.id().with(("grip", key(item))),
        Sense::click_and_drag(),
    );
    let ink = if chosen || grip.hovered() { colours.accent } else { colours.ink };
    for line in seen.into_iter().filter(|_| *stays || chosen || grip.hovered() || grip.dragged()) {
        ui.painter().add(Shape::closed_line(line.clone(), Stroke::new(4.0, colours.raised)));
        ui.painter().add(Shape::closed_line(line, Stroke::new(2.0, ink)));
    }
    if chosen && *turns {
        arm(ui, sight, desk, item, stand);
    }
    ui.painter().circle(at, if grip.hovered() { GRIP } else { GRIP - 2.0 }, colours.raised, Stroke::new(2.0, ink));
    let text = match item {
        Item::Fitting(n) => (n + 1).to_string(),
        Item::Mark(_) => "A".to_owned(),
        Item::Picture(_) => "▣".to_owned(),
    };
    ui.painter().text(at, Align2::CENTER_CENTER, text, FontId::proportional(13.0), ink);
    if grip.hovered() || grip.dragged() {
        ui.ctx().set_cursor_icon(if grip.dragged() { CursorIcon::Grabbing } else { CursorIcon::Grab });
    }
    if grip.clicked() || grip.drag_started() {
        desk.view.shell.chosen = Some(item);
    }
    if (grip.dragged() || grip.drag_stopped())
        && let Some(pointer) = grip.interact_pointer_pos()
    {
        let (from, way) = sight.through(pointer);
        if let Some(hit) = skin.ray(&from, &way, SIGHT_MM) {
            let placed = placed(desk);
            desk.bench.session.edit_live("move", |design| {
                take_over(&mut design.shell, item, &placed);
                if let Some((at_mm, _)) = pose(&mut design.shell, item) {
                    *at_mm = hit.point;
                }
            });
        }
    }
    if grip.drag_stopped() {
        desk.bench.session.settle();
    }
}

/// The bounding box of outlines.
fn around(lines: &[Vec<Pos2>]) -> Rect {
    lines.iter().flatten().fold(Rect::NOTHING, |field, p| field.union(Rect::from_pos(*p)))
}

fn arm(ui: &mut Ui, sight: &Sight, desk: &mut Desk<'_>, item: Item, stand: &Stand) {
    let colours = look::palette(ui.ctx());
    let (Some(from), Some(end)) = (sight.see(&stand.at), sight.see(&stand.point(ARM_MM, 0.0))) else { return };
    let knob = ui.interact(
        Rect::from_center_size(end, Vec2::splat(2.2 * GRIP)),
        ui.id().with(("arm", key(item))),
        Sense::drag(),
    );
    ui.painter().line_segment([from, end], Stroke::new(4.0, colours.raised));
    ui.painter().line_segment([from, end], Stroke::new(2.0, colours.accent));
    ui.painter().circle(end, GRIP - 3.0, colours.accent, Stroke::new(2.0, colours.raised));
    Icon::Turn.paint(ui.painter(), Rect::from_center_size(end, Vec2::splat(13.0)), colours.on_accent);
    if knob.hovered() {
        ui.ctx().set_cursor_icon(CursorIcon::Grab);
    }
    if (knob.dragged() || knob.drag_stopped())
        && let Some(pointer) = knob.interact_pointer_pos()
    {
        // Where the line of sight meets the plane through the handle that is parallel to the skin.
        let (from, way) = sight.through(pointer);
        let down = way.dot(&stand.normal);
        if down.abs() > 1e-6 {
            let met = from + way * ((stand.at - from).dot(&stand.normal) / down);
            let turn = turn_deg(&stand.normal, &(met - stand.at));
            let placed = placed(desk);
            desk.bench.session.edit_live("turn", |design| {
                take_over(&mut design.shell, item, &placed);
                if let Some((_, turn_deg)) = pose(&mut design.shell, item) {
                    *turn_deg = turn;
                }
            });
        }
    }
    if knob.drag_stopped() {
        desk.bench.session.settle();
    }
}

fn key(item: Item) -> (u8, usize) {
    match item {
        Item::Fitting(n) => (0, n),
        Item::Mark(n) => (1, n),
        Item::Picture(n) => (2, n),
    }
}

/// Shows where a click would put a thing, and puts it there.
fn place(ui: &mut Ui, sight: &Sight, desk: &mut Desk<'_>, skin: &Surface, lift_mm: f32) {
    let colours = look::palette(ui.ctx());
    let field = ui.interact(sight.field, ui.id().with("place"), Sense::click());
    let here = std::mem::take(&mut desk.view.shell.place_here);
    let pointer = if here { Some(sight.field.center()) } else { field.hover_pos() };
    let Some(pointer) = pointer else { return };
    let (from, way) = sight.through(pointer);
    let Some(hit) = skin.ray(&from, &way, SIGHT_MM) else {
        if here {
            desk.bench.say(MISSED, true);
        }
        return;
    };
    let Some(placing) = desk.view.shell.placing.clone() else { return };
    ui.ctx().set_cursor_icon(CursorIcon::Crosshair);
    if let Placing::Fitting(kind) = &placing
        && let Some(stand) = Stand::new(skin, &hit.point, 90.0, lift_mm)
    {
        for line in outline(kind) {
            let seen: Option<Vec<Pos2>> = line.iter().map(|[u, v]| sight.see(&stand.point(*u, *v))).collect();
            if let Some(seen) = seen {
                ui.painter().add(Shape::closed_line(seen.clone(), Stroke::new(4.0, colours.raised)));
                ui.painter().add(Shape::closed_line(seen, Stroke::new(2.0, colours.accent)));
            }
        }
    }
    if field.clicked() || here {
        let mut put_there = None;
        desk.bench.session.edit("add", |design| put_there = Some(put(&mut design.shell, &placing, hit.point)));
        desk.view.shell.chosen = put_there;
        desk.view.shell.placing = None;
    }
}

/// A ring with a sign where something cannot be built.
fn mark_problem(ui: &Ui, sight: &Sight, place: &Point3<f32>) {
    let colours = look::palette(ui.ctx());
    let Some(at) = sight.see(place) else { return };
    ui.painter().circle_stroke(at, 16.0, Stroke::new(5.0, colours.raised));
    ui.painter().circle(at, 16.0, Color32::TRANSPARENT, Stroke::new(2.5, colours.bad));
    let sign = at + Vec2::new(22.0, -22.0);
    ui.painter().circle_filled(sign, 12.0, colours.raised);
    Icon::Wrong.paint(ui.painter(), Rect::from_center_size(sign, Vec2::splat(22.0)), colours.bad);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The turn counts from *around* towards *along*: on the side of a limb, along is up.
    #[test]
    fn a_direction_on_the_skin_is_read_as_the_turn_that_makes_it() {
        let normal = Vector3::x();
        assert_eq!(turn_deg(&normal, &Vector3::y()), 0.0);
        assert_eq!(turn_deg(&normal, &Vector3::z()), 90.0);
        let (around, along) = shell::skin_directions(&normal);
        for turn in [-170.0_f32, -35.0, 12.0, 128.0] {
            let (sin, cos) = turn.to_radians().sin_cos();
            assert_eq!(turn_deg(&normal, &((around * cos + along * sin) * 7.0)), turn);
        }
    }
}
