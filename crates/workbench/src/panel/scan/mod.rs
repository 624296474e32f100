//! The scan step: what it is, how it was cleaned, and what to begin with.

mod about;
mod cleaning;
mod ends;
pub mod files;

use bevy_egui::egui::Ui;

use crate::desk::Desk;
use crate::look::{remark, title};

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    title(ui, "Scan");
    if desk.bench.session.document().is_none() {
        if desk.bench.session.is_opening() {
            remark(ui, "Opening. The scan is shown as it came until it is clean.");
        } else {
            remark(ui, "Open a scan (STL, OBJ or PLY) or a design, or drop the file on this window.");
            files::start(ui, desk);
        }
        return;
    }
    cleaning::outcome(ui, desk);
    about::show(ui, desk);
    about::unit(ui, desk);
    ends::show(ui, desk);
    cleaning::switches(ui, desk);
    files::watched(ui, desk);
    // What grows and shrinks with every cleaning stands below all controls.
    cleaning::left_alone(ui, desk);
    cleaning::report(ui, desk);
}
