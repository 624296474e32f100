//! The commands of the scan step: what it is, its unit, cleaning, its ends, the watched folder.

use scan::{BodySite, CleanSettings, Side, Unit};
use session::crop::Ends;
use session::{Session, about};

use super::files::{choose, go_on_to};
use super::next_of;
use crate::actions::Action;
use crate::state::files::{FileRequest, Next};
use crate::state::scan::{most_off, off, whole, without};
use crate::state::{Bench, View};

/// A part of cleaning: what switches it, its name, whether it is on, and what turns it on or off.
pub type CleaningSwitch = (Action, &'static str, fn(&CleanSettings) -> bool, fn(&mut CleanSettings, bool));

/// The parts of cleaning that can be switched.
pub const CLEANING: [CleaningSwitch; 8] = [
    (Action::Mend, "Repair faulty spots", |c| c.mend, |c, on| c.mend = on),
    (Action::Table, "Remove the table", |c| c.remove_table_plane, |c, on| c.remove_table_plane = on),
    (Action::Pieces, "Drop loose pieces", |c| c.drop_small_pieces, |c, on| c.drop_small_pieces = on),
    (
        Action::Noise,
        "Remove scanner noise",
        |c| c.smooth > 0.0,
        |c, on| c.smooth = if on { CleanSettings::default().smooth } else { 0.0 },
    ),
    (
        Action::Holes,
        "Fill holes",
        |c| c.fill_holes_mm > 0.0,
        |c, on| c.fill_holes_mm = if on { CleanSettings::default().fill_holes_mm } else { 0.0 },
    ),
    (
        Action::LongTriangles,
        "Even out coarse parts",
        |c| c.longest_edge_mm.is_some(),
        |c, on| c.longest_edge_mm = CleanSettings::default().longest_edge_mm.filter(|_| on),
    ),
    (Action::Upright, "Stand the limb upright", |c| c.upright, |c, on| c.upright = on),
    (Action::Mirror, "Mirror: left becomes right", |c| c.mirror, |c, on| c.mirror = on),
];

/// Does what a key or button of this step asks for.
pub fn perform(action: Action, bench: &mut Bench, view: &mut View) {
    match action {
        Action::CutUpper => cut_by(bench, view, 0.0, 5.0),
        Action::KeepUpper => cut_by(bench, view, 0.0, -5.0),
        Action::CutLower => cut_by(bench, view, 5.0, 0.0),
        Action::KeepLower => cut_by(bench, view, -5.0, 0.0),
        Action::Watch => choose(bench, FileRequest::Watch),
        Action::StopWatching => bench.session.watch(None),
        Action::OpenArrived => {
            if let Some(path) = bench.files.arrived.take() {
                go_on_to(bench, view, Next::Open(path));
            }
        }
        Action::PassArrived => bench.files.arrived = None,
        Action::NextUnit => {
            let Some(seen) = bench.session.derived().limb.value().map(|limb| limb.report.unit.unit) else { return };
            bench.session.edit("unit of the scan", |design| {
                // The likeliest first, while none is chosen.
                design.clean.unit = design.clean.unit.map_or(Some(seen), |now| next_of(&Unit::ALL, &now));
            });
        }
        Action::NextSite => bench.session.edit("body site", |design| {
            about::set_site(design, next_of(&BodySite::ALL, &design.site).unwrap_or(design.site));
        }),
        Action::NextSide => bench.session.edit("side of the body", |design| {
            let sides = [Side::Left, Side::Right, Side::Unknown];
            about::set_side(design, next_of(&sides, &design.side).unwrap_or(design.side));
        }),
        other => {
            if let Some((_, _, is_on, set)) = CLEANING.iter().find(|(action, ..)| *action == other) {
                bench.session.edit("cleaning", |design| {
                    let on = !is_on(&design.clean);
                    set(&mut design.clean, on);
                    if other == Action::Mirror {
                        let mirrored = match design.side {
                            Side::Left => Side::Right,
                            Side::Right => Side::Left,
                            Side::Unknown => Side::Unknown,
                        };
                        about::set_side(design, mirrored);
                    }
                });
            }
        }
    }
}

/// Cuts the ends off.
pub fn cut_off(session: &mut Session, cut: Ends) {
    session.edit("cut the ends off", |design| {
        let placement = design.placement;
        cut.put(&mut design.clean.crop, &placement);
    });
}

/// Cuts more off an end, or less.
fn cut_by(bench: &mut Bench, view: &mut View, lower_mm: f32, upper_mm: f32) {
    let session = &mut bench.session;
    let Some((low, high)) = whole(&mut view.scan, session) else { return };
    let Some(made) = session.design().map(|design| Ends::of(&design.clean.crop, &design.placement)) else { return };
    let [below, above] = off(made, low, high);
    let most = most_off(low, high);
    let new = |now: f32, by: f32| (now + by).round().clamp(0.0, most);
    let below = if lower_mm == 0.0 { below } else { new(below, lower_mm) };
    let above = if upper_mm == 0.0 { above } else { new(above, upper_mm) };
    cut_off(session, without(low, high, below, above));
}
