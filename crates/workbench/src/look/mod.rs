//! How the workbench looks: colours, type, signs, and controls of its own.
//!
//! Panels use [`title`], [`section`], [`Setting`] (a slider), [`choice`], [`switch`], [`primary`], [`button`], [`tool`],
//! [`sign`], [`figure`], [`bars`], [`remark`] and [`problem`]; all take their colours from the palette in use.

pub mod colours;
pub mod heat;
pub mod icons;

mod ask;
mod path;
mod rings;
mod settings;
mod slider;
mod theme;

use bevy_egui::egui::{FontFamily, RichText};

pub use ask::{
    Bar, bars, button, caption, choice, choice_with_signs, figure, primary, problem, remark, section,
    section_with_sign, sign, switch, title, tool, wide_button,
};
pub use path::steps;
pub use rings::{filled, thinned};
pub use settings::settings;
pub use slider::{Moved, Setting};
pub use theme::{apply, palette};

/// Text in the bold face.
pub fn bold(text: impl Into<String>) -> RichText {
    RichText::new(text).family(FontFamily::Name("strong".into()))
}
