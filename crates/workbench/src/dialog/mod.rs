//! What stands in front of the window: the list of keys, the settings, a file to be chosen, the question before work is
//! lost.

mod chooser;
mod keys;
mod question;
mod settings;

use bevy_egui::egui::{self, Context};

use crate::desk::Desk;
use crate::state::Floating;

/// Draws the topmost of what is open; the others wait below it.
pub fn show(ctx: &Context, desk: &mut Desk<'_>) {
    if let Some(chooser) = &mut desk.bench.files.chooser {
        return chooser::show(ctx, chooser);
    }
    if desk.bench.files.question.is_some() {
        return question::show(ctx, desk.bench, desk.view);
    }
    let open = match desk.view.floating {
        None => return,
        Some(Floating::Keys) => keys::show(ctx, desk),
        Some(Floating::Settings) => settings::show(ctx, &mut desk.bench.session),
    };
    if !open {
        desk.view.floating = None;
    }
}

/// Paper with a wide margin.
fn dialog_frame(ctx: &egui::Context) -> egui::Frame {
    egui::Frame::popup(&ctx.global_style()).inner_margin(egui::Margin::same(20))
}
