//! How the workbench looks: colours, type, signs, and controls of its own.
//!
//! Panels use [`title`], [`section`], [`Setting`] (a slider), [`choice`], [`switch`], [`primary`], [`button`],
//! [`tool`], [`sign`], [`listed`], [`figure`], [`bars`], [`remark`] and [`problem`]; all take their colours from the
//! palette in use. Text is typed into a [`field`] in a [`steady`] part; what comes and goes above other controls stands
//! in [`reserved`] and [`noted`] places.

pub mod colours;
mod controls;
mod field;
pub mod heat;
pub mod icons;
mod legend;
pub mod regions;
mod rings;
mod slider;
mod theme;

use bevy_egui::egui::{FontFamily, RichText, Ui, UiBuilder};

pub use controls::{
    Bar, bars, button, caption, choice, choice_with_signs, choice_with_tips, figure, listed, noted, primary, problem,
    remark, secondary, section, section_with_sign, sign, switch, title, tool, tool_without_sign, wide_button,
};
pub use field::field;
pub use legend::legend;
pub use rings::{filled, thinned};
pub use slider::{Moved, Setting};
pub use theme::{apply, palette};

/// A part of a panel in which fields and sliders keep the focus whatever comes or goes above them; `name` must be
/// unique within the panel.
pub fn steady<R>(ui: &mut Ui, name: &str, add: impl FnOnce(&mut Ui) -> R) -> R {
    let id = ui.make_persistent_id(name);
    ui.scope_builder(UiBuilder::new().id(id), add).inner
}

/// A place in a panel for what comes and goes: at least `least` high, and never lower than before while `of` is the
/// same, so that nothing below it moves under the hand.
pub fn reserved<R>(ui: &mut Ui, name: &str, of: u64, least: f32, add: impl FnOnce(&mut Ui) -> R) -> R {
    let id = ui.make_persistent_id(("reserved", name));
    let known = ui.data(|data| data.get_temp::<(u64, f32)>(id)).filter(|(known, _)| *known == of);
    let height = known.map_or(least, |(_, height)| height.max(least));
    let added = ui.scope_builder(UiBuilder::new().id(id), |ui| {
        ui.set_min_height(height);
        add(ui)
    });
    ui.data_mut(|data| data.insert_temp(id, (of, added.response.rect.height())));
    added.inner
}

/// Text in the bold face.
pub fn bold(text: impl Into<String>) -> RichText {
    RichText::new(text).family(FontFamily::Name("strong".into()))
}
