//! Two sliders that cut the ends of the limb off.

use bevy_egui::egui::Ui;
use session::crop::Ends;

use crate::commands::scan::cut_off;
use crate::desk::Desk;
use crate::look::icons::Icon;
use crate::look::{Setting, section_with_sign};
use crate::state::scan::{most_off, off, whole, without};

/// Shows them.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    section_with_sign(ui, Icon::Crop, "Cut off the ends");
    let session = &mut desk.bench.session;
    let keep = &mut desk.view.scan;
    // Until the length of the whole limb is known, the sliders are shown but cannot be moved.
    let known = whole(keep, session);
    let (low, high) = known.unwrap_or_default();
    let Some(made) = session.design().map(|design| Ends::of(&design.clean.crop, &design.placement)) else { return };
    let shown = keep.cut.unwrap_or(made);
    let most = most_off(low, high);
    let [mut below, mut above] = off(shown, low, high);
    let sliders = ui.add_enabled_ui(known.is_some(), |ui| {
        let one = Setting::new("Upper end", "mm", 0.0..=most).step(1.0).show(ui, &mut above);
        (one, Setting::new("Lower end", "mm", 0.0..=most).step(1.0).show(ui, &mut below))
    });
    let (one, two) = sliders.inner;
    if one.changed || two.changed {
        keep.moves = [two.changed || keep.moves[0], one.changed || keep.moves[1]];
        keep.cut = Some(without(low, high, below, above));
    }
    if (one.let_go || two.let_go)
        && let Some(cut) = keep.cut.take()
    {
        keep.moves = [false; 2];
        cut_off(session, cut);
    }
}
