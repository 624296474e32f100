//! Letters beside the regions on the limb, as in the panel, so that a colour is never the only sign.

use bevy_egui::egui::{Align2, FontId, Pos2, Stroke, Ui, Vec2};
use session::marking;

use super::{Sight, label};
use crate::desk::Desk;
use crate::look;
use crate::state::zone::{Aim, kind_name};

/// From the place to its letter, in the window.
const ASIDE: Vec2 = Vec2::new(34.0, -30.0);

/// Half the size of a letter's field.
const HALF: f32 = 12.0;

/// Draws a letter beside every spot of a region that is in sight, and the kind of region beside the biggest.
pub(super) fn show(ui: &Ui, sight: &Sight, desk: &mut Desk<'_>) {
    desk.view.zone.filling.keep(&desk.bench.session);
    let derived = desk.bench.session.derived();
    let (Some(limb), Some(sketch), Some(design)) =
        (derived.limb.value(), derived.sketch.value(), desk.bench.session.design())
    else {
        return;
    };
    let letters = &mut desk.view.zone.letters;
    letters.keep(derived.sketch.serial(), limb, sketch);
    let colours = look::palette(ui.ctx());
    let mut taken: Vec<Pos2> = Vec::new();
    for (number, (region, spots)) in design.zone.regions.iter().zip(&letters.spots).enumerate() {
        let mut named = false;
        for spot in spots {
            let seen = spot.iter().find(|(p, n)| sight.faces(p, n) && !sight.hidden(&limb.skin, p));
            let Some(foot) = seen.and_then(|(p, _)| sight.see(p)).filter(|p| sight.field.contains(*p)) else {
                continue;
            };
            let mut at = foot + ASIDE;
            while taken.iter().any(|other| (other.y - at.y).abs() < 2.4 * HALF && (other.x - at.x).abs() < 130.0) {
                at.y -= 2.4 * HALF;
            }
            taken.push(at);
            let ink = if desk.view.zone.aim == Aim::Region(number) { colours.accent } else { colours.ink };
            ui.painter().line_segment([foot, at], Stroke::new(3.5, colours.raised));
            ui.painter().line_segment([foot, at], Stroke::new(1.5, ink));
            ui.painter().circle(foot, 3.5, ink, Stroke::new(1.5, colours.raised));
            if !named {
                label(ui, at + Vec2::new(HALF + 12.0, 9.0), kind_name(region.kind));
                named = true;
            }
            ui.painter().circle(at, HALF, colours.raised, Stroke::new(1.8, ink));
            let letter = marking::letter(number);
            let size = if letter.len() > 1 { 12.0 } else { 15.0 };
            ui.painter().text(at, Align2::CENTER_CENTER, letter, FontId::proportional(size), ink);
        }
    }
}
