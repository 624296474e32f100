//! Grips along the trim line: where one is dragged over the skin, the edge of the zone follows.

use std::sync::Arc;

use bevy_egui::egui::{CursorIcon, Pos2, Rect, Sense, Shape, Stroke, Ui, Vec2};
use mesh::Surface;
use nalgebra::{Point3, Vector3};
use session::Session;
use shell::Fitting;
use zone::trim::{grips, pull};

use crate::desk::Desk;
use crate::look;
use crate::overlay::{Sight, label};
use crate::state::SIGHT_MM;
use crate::state::shell::Held;

/// Half the side of the square in which the pointer takes hold of a grip.
const CATCH: f32 = 13.0;

/// Grips nearer than this to a handle of a strap or number are left out.
const CLEAR: f32 = 26.0;

/// Draws the grips and pulls the edge at the one that is dragged.
pub fn show(ui: &mut Ui, sight: &Sight, desk: &mut Desk<'_>) {
    let session = &desk.bench.session;
    let derived = session.derived();
    let (Some(limb), Some(zone), Some(design)) = (derived.limb.value(), derived.zone.value(), session.design()) else {
        desk.view.shell.trim.held = None;
        return;
    };
    // While a zone cannot be made, its grips would stand on the edge of the one before.
    let made = derived.zone.problem().is_none() && !design.zone.sources.is_empty();
    let trimming = &mut desk.view.shell.trim;
    if desk.view.shell.placing.is_some() || (!made && trimming.held.is_none()) {
        return;
    }
    let (limb, zone, serial) = (Arc::clone(limb), Arc::clone(zone), derived.zone.serial());
    let now = session.derived().zone_now(design).is_some();
    let lift_mm = design.shell.gap_mm + design.shell.thickness_mm;
    let fittings = fittings_shown(session);
    let shell = &design.shell;
    let handles: Vec<Pos2> = fittings
        .iter()
        .map(|f| f.at_mm)
        .chain(shell.marks.iter().map(|mark| mark.at_mm))
        .chain(shell.pictures.iter().map(|picture| picture.at_mm))
        .filter_map(|at| sight.see(&lifted(&limb.skin, &at, lift_mm)?.0))
        .collect();
    if trimming.known.0 != serial {
        trimming.known = (serial, Arc::new(grips(&limb.skin, &zone.covered.edges)));
    }
    let all = trimming.held.as_ref().map_or_else(|| Arc::clone(&trimming.known.1), |held| Arc::clone(&held.grips));
    for (number, grip) in all.iter().enumerate() {
        let held = desk.view.shell.trim.held.as_ref().is_some_and(|held| held.number == number);
        let Some((stand, normal)) = lifted(&limb.skin, &grip.at_mm, lift_mm) else { continue };
        let Some(at) = sight.see(&stand) else { continue };
        let seen = sight.faces(&stand, &normal) && !sight.hidden(&limb.skin, &stand);
        let free = handles.iter().all(|handle| handle.distance(at) > CLEAR);
        if !(held || seen && free && sight.field.contains(at)) {
            continue;
        }
        let field = Rect::from_center_size(at, Vec2::splat(2.0 * CATCH));
        let response = ui.interact(field, ui.id().with(("trim", number)), Sense::drag());
        if response.drag_started() && now {
            let before = desk.bench.session.design().map(|d| d.zone.pulls.clone()).unwrap_or_default();
            let edges = zone.covered.edges.clone();
            desk.view.shell.trim.held = Some(Held { number, grips: Arc::clone(&all), edges, before, pulled: None });
        }
        if (response.dragged() || response.drag_stopped())
            && let Some(pointer) = response.interact_pointer_pos()
        {
            drag(&limb.skin, sight, desk, number, pointer);
        }
        if response.drag_stopped() && desk.view.shell.trim.held.take().is_some() {
            desk.bench.session.settle();
        }
        let outward = sight.see(&(stand + grip.outward * 2.0)).unwrap_or(at) - at;
        if response.hovered() || held {
            ui.ctx().set_cursor_icon(if held { CursorIcon::Grabbing } else { CursorIcon::Grab });
        }
        if !held {
            dot(ui, at, outward, response.hovered());
        }
    }
    if let Some(held) = desk.view.shell.trim.held.as_ref() {
        line(ui, sight, &limb.skin, held, lift_mm);
    }
}

fn drag(skin: &Surface, sight: &Sight, desk: &mut Desk<'_>, number: usize, pointer: Pos2) {
    let (from, way) = sight.through(pointer);
    let Some(hit) = skin.ray(&from, &way, SIGHT_MM) else { return };
    let Some(held) = desk.view.shell.trim.held.as_mut().filter(|held| held.number == number) else { return };
    let Some(grip) = held.grips.get(number) else { return };
    held.pulled = pull(skin, &held.edges, grip, &hit);
    let mut pulls = held.before.clone();
    pulls.extend(held.pulled.as_ref().map(|pulled| pulled.pull));
    desk.bench.session.edit_live("move the trim line", |design| design.zone.pulls = pulls);
}

/// The fittings where the shell that is shown has them, those that follow too; those of the design before there is one.
fn fittings_shown(session: &Session) -> Vec<Fitting> {
    let design = session.design();
    match design.and_then(|design| session.derived().best_shell(design)) {
        Some(shell) => shell.layout.fittings.iter().map(|(_, fitting)| fitting.clone()).collect(),
        None => design.map_or_else(Vec::new, |design| design.shell.fittings.clone()),
    }
}

/// The place above the skin where the shell's outer face is, and its normal.
fn lifted(skin: &Surface, at_mm: &Point3<f32>, lift_mm: f32) -> Option<(Point3<f32>, Vector3<f32>)> {
    let hit = skin.nearest(at_mm, None)?;
    let normal = skin.normal_at(&hit);
    Some((hit.point + normal * lift_mm, normal))
}

/// A grip: a small ring with a tick to each side on which it can be pulled.
fn dot(ui: &Ui, at: Pos2, outward: Vec2, hovered: bool) {
    let colours = look::palette(ui.ctx());
    let way = outward.normalized();
    let (radius, reach) = if hovered { (7.0, 15.0) } else { (5.0, 10.0) };
    for (width, ink) in [(4.5, colours.raised), (2.0, colours.accent)] {
        ui.painter().line_segment([at - way * reach, at + way * reach], Stroke::new(width, ink));
    }
    let fill = if hovered { colours.accent } else { colours.raised };
    ui.painter().circle(at, radius, fill, Stroke::new(2.0, colours.accent));
}

/// The piece of the edge that moves, where it will be.
fn line(ui: &Ui, sight: &Sight, skin: &Surface, held: &Held, lift_mm: f32) {
    let colours = look::palette(ui.ctx());
    let Some(pulled) = &held.pulled else { return };
    let seen: Option<Vec<Pos2>> = pulled.line_mm.iter().map(|p| sight.see(&lifted(skin, p, lift_mm)?.0)).collect();
    let Some(seen) = seen else { return };
    ui.painter().add(Shape::line(seen.clone(), Stroke::new(6.0, colours.raised)));
    ui.painter().add(Shape::line(seen.clone(), Stroke::new(3.0, colours.accent)));
    if let Some(middle) = seen.get(seen.len() / 2) {
        ui.painter().circle(*middle, 7.0, colours.accent, Stroke::new(2.0, colours.raised));
        let text = format!("{:+.0} mm", pulled.pull.by_mm);
        label(ui, *middle + Vec2::new(16.0, -16.0), &text);
    }
}
