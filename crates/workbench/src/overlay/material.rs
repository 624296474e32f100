//! The material step over the stage: where the guard is struck, and where it is nearest to giving way.

use bevy_egui::egui::{Color32, Pos2, Shape, Stroke, Ui, Vec2, vec2};
use nalgebra::Point3;

use super::{Sight, label};
use crate::desk::Desk;
use crate::look;

/// Radius of the ring where it is struck.
const RING: f32 = 11.0;
/// Half the width of the sign where it is weakest.
const HALF: f32 = 8.0;

/// Draws both.
pub(super) fn show(ui: &Ui, sight: &Sight, desk: &Desk<'_>) {
    let session = &desk.bench.session;
    let Some(design) = session.design() else { return };
    let derived = session.derived();
    let (Some(report), Some(limb)) = (derived.strength_now(design), derived.limb.value()) else { return };
    let place = |[x, y, z]: [f64; 3]| Point3::new(x as f32, y as f32, z as f32);
    let seen = |at: Point3<f32>| {
        let here = sight.see(&at).filter(|here| sight.field.contains(*here))?;
        (!sight.hidden(&limb.skin, &at)).then_some(here)
    };
    let colours = look::palette(ui.ctx());
    let row = report.row(design.material, design.filament.as_deref());
    let struck = seen(place(report.at_mm));
    if let Some(at) = struck {
        ring(ui, at, colours.raised, 4.5);
        ring(ui, at, colours.ink, 2.0);
        label(ui, at + vec2(RING + 10.0, -RING), "struck here");
    }
    let weakest = row.and_then(|row| Some((seen(place(row.answer.weakest_mm))?, row.answer.spare.value < 1.0)));
    if let Some((at, gives_way)) = weakest {
        let corners: [Pos2; 3] =
            [vec2(0.0, -HALF), vec2(HALF, 0.8 * HALF), vec2(-HALF, 0.8 * HALF)].map(|way| at + way);
        let sign = Shape::convex_polygon(corners.to_vec(), colours.bad, Stroke::new(2.0, colours.raised));
        ui.painter().add(sign);
        // Beside the other label where the two are near each other.
        let near = struck.is_some_and(|other| (other - at).length() < 60.0);
        let down = if near { Vec2::new(HALF + 10.0, 34.0) } else { Vec2::new(HALF + 10.0, HALF) };
        label(ui, at + down, if gives_way { "gives way here" } else { "weakest here" });
    }
}

fn ring(ui: &Ui, at: Pos2, ink: Color32, width: f32) {
    let line = Stroke::new(width, ink);
    ui.painter().circle_stroke(at, RING, line);
    for way in [vec2(1.0, 0.0), vec2(-1.0, 0.0), vec2(0.0, 1.0), vec2(0.0, -1.0)] {
        ui.painter().line_segment([at + way * (RING - 4.0), at + way * (RING + 5.0)], line);
    }
}
