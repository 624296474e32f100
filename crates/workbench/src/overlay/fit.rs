//! The cutting plane over the stage: its outlines and the handle that drags it along the limb.

use bevy_egui::egui::{Color32, CursorIcon, Pos2, Rect, Sense, Shape, Stroke, Ui, Vec2, vec2};
use fit::Section;
use nalgebra::Point3;

use super::Sight;
use crate::desk::Desk;
use crate::look;

/// Colour of the limb's cut face.
const INSIDE: Color32 = Color32::from_rgb(0xc8, 0x98, 0x82);

/// Draws the cut and moves it, while there is one.
pub(super) fn show(ui: &mut Ui, sight: &Sight, desk: &mut Desk<'_>) {
    let Some((low, high)) = desk.view.fit.range_mm.filter(|_| desk.view.fit.cut) else { return };
    let height = desk.view.fit.plane_mm;
    let colours = look::palette(ui.ctx());
    let derived = desk.bench.session.derived();
    if let Some(cuts) = derived.cuts.value().filter(|cuts| (cuts.height_mm - height).abs() < 3.0) {
        // Seen from above, nothing that is left hides the plane.
        if sight.eye.z > cuts.height_mm {
            face(ui, sight, &cuts.limb, INSIDE.gamma_multiply(desk.view.fit.limb));
            face(ui, sight, &cuts.shell, colours.accent);
        }
        outlines(ui, sight, &cuts.limb, Stroke::new(2.0, colours.ink));
        outlines(ui, sight, &cuts.shell, Stroke::new(2.0, colours.accent));
    }
    let Some(limb) = derived.limb.value() else { return };
    let Some((least, most)) = limb.skin.bounds() else { return };
    // The handle stands to the right of the limb as seen in the window.
    let middle = nalgebra::center(&least, &most);
    let reach = 0.5 * (most - least).xy().norm();
    let toward = Point3::new(sight.eye.x, sight.eye.y, middle.z) - middle;
    let aside = nalgebra::Vector3::z().cross(&toward).try_normalize(1e-6).unwrap_or_else(nalgebra::Vector3::x);
    let stand = |z: f32| Point3::new(middle.x, middle.y, z) + aside * (reach + 12.0);
    let (Some(at), Some(foot), Some(top)) =
        (sight.see(&stand(height)), sight.see(&stand(low)), sight.see(&stand(high)))
    else {
        return;
    };
    ui.painter().line_segment([foot, top], Stroke::new(4.0, colours.line));
    let knob = ui.interact(Rect::from_center_size(at, Vec2::splat(36.0)), ui.id().with("plane"), Sense::drag());
    let grown = if knob.hovered() || knob.dragged() { 2.0 } else { 0.0 };
    let inner = sight.see(&(stand(height) - aside * 24.0)).unwrap_or(at);
    ui.painter().line_segment([inner, at], Stroke::new(3.0, colours.accent));
    ui.painter().circle(at, 11.0 + grown, colours.raised, Stroke::new(2.5, colours.accent));
    for side in [-1.0, 1.0] {
        let tip = at + vec2(0.0, 6.0 * side);
        let arrow = vec![tip + vec2(-3.5, -4.0 * side), tip, tip + vec2(3.5, -4.0 * side)];
        ui.painter().add(Shape::line(arrow, Stroke::new(1.8, colours.accent)));
    }
    if knob.hovered() {
        ui.ctx().set_cursor_icon(CursorIcon::ResizeVertical);
    }
    if knob.dragged()
        && let Some(pointer) = knob.interact_pointer_pos()
    {
        desk.view.fit.plane_mm = along(foot, top, pointer, low, high);
    }
}

/// The height whose place on the rail is nearest to the pointer.
fn along(foot: Pos2, top: Pos2, pointer: Pos2, low: f32, high: f32) -> f32 {
    let rail = top - foot;
    let share = (pointer - foot).dot(rail) / rail.length_sq().max(1.0);
    (low + (high - low) * share).clamp(low, high)
}

/// Fills what the plane cuts through.
fn face(ui: &Ui, sight: &Sight, section: &Section, colour: Color32) {
    let closed = section.lines.iter().filter(|line| line.closed);
    let rings: Option<Vec<Vec<Pos2>>> = closed
        .map(|line| {
            let seen: Option<Vec<Pos2>> = line.points.iter().map(|p| sight.see(p)).collect();
            seen.map(|seen| look::thinned(seen.into_iter()))
        })
        .collect();
    ui.painter().extend(rings.and_then(|rings| look::filled(&rings, colour)));
}

fn outlines(ui: &Ui, sight: &Sight, section: &Section, stroke: Stroke) {
    for line in &section.lines {
        let seen: Option<Vec<Pos2>> = line.points.iter().map(|p| sight.see(p)).collect();
        if let Some(seen) = seen {
            let shape = if line.closed { Shape::closed_line(seen, stroke) } else { Shape::line(seen, stroke) };
            ui.painter().add(shape);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bevy_egui::egui::pos2;

    #[test]
    fn the_plane_follows_the_pointer_along_its_rail_and_stops_at_the_ends() {
        let (foot, top) = (pos2(100.0, 500.0), pos2(100.0, 100.0));
        assert_eq!(along(foot, top, pos2(130.0, 300.0), -80.0, 120.0), 20.0);
        assert_eq!(along(foot, top, pos2(90.0, 900.0), -80.0, 120.0), -80.0);
        assert_eq!(along(foot, top, pos2(90.0, 0.0), -80.0, 120.0), 120.0);
    }
}
