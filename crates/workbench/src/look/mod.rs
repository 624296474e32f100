//! How the workbench looks: colours, type, signs, and controls of its own.
//!
//! Panels use [`title`], [`section`], [`Setting`] (a slider), [`choice`], [`switch`], [`primary`], [`button`], [`tool`],
//! [`sign`], [`figure`], [`bars`], [`remark`] and [`problem`]; all take their colours from the palette in use. Fields that
//! are typed into stand in [`steady`] parts.

pub mod colours;
mod controls;
pub mod heat;
pub mod icons;
pub mod regions;
mod rings;
mod slider;
mod theme;

use bevy_egui::egui::{FontFamily, RichText, Ui, UiBuilder};

pub use controls::{
    Bar, bars, button, caption, choice, choice_with_signs, figure, primary, problem, remark, section,
    section_with_sign, sign, switch, title, tool, wide_button,
};
pub use rings::{filled, thinned};
pub use slider::{Moved, Setting};
pub use theme::{apply, palette};

/// A part of a panel in which fields and sliders keep the keyboard whatever comes or goes above them; `name` is its own
/// within the panel.
pub fn steady<R>(ui: &mut Ui, name: &str, add: impl FnOnce(&mut Ui) -> R) -> R {
    let id = ui.make_persistent_id(name);
    ui.scope_builder(UiBuilder::new().id(id), add).inner
}

/// Text in the bold face.
pub fn bold(text: impl Into<String>) -> RichText {
    RichText::new(text).family(FontFamily::Name("strong".into()))
}
