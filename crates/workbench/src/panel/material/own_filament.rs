//! The form for a filament of the user's own.

use bevy_egui::egui::{TextEdit, Ui};
use mechanics::Family;

use super::kind_of_filament;
use crate::actions::Action;
use crate::desk::Desk;
use crate::look::icons::Icon;
use crate::look::{self, Setting, field};

/// Shows the form, or the button that opens it.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    look::section(ui, "A filament of your own");
    let known = &desk.bench.session.materials.materials;
    let currency = known.first().map(|material| material.price_per_kg.currency.clone()).unwrap_or_default();
    let Some(own) = &mut desk.view.material.own else {
        if look::button(ui, Some(Icon::Add), "Add a filament").on_hover_text(Action::OwnFilament.keys()).clicked() {
            desk.asked.0.push(Action::OwnFilament);
        }
        return;
    };
    ui.label("Kind of plastic");
    look::steady(ui, "kind of plastic", |ui| {
        field(ui, TextEdit::singleline(&mut own.name).char_limit(40).desired_width(f32::INFINITY))
    });
    let families = [(Family::Rigid, "Rigid"), (Family::SemiRigid, "Semi-rigid"), (Family::Flexible, "Flexible")]
        .map(|(family, name)| (family, name, kind_of_filament(family)));
    look::choice_with_tips(ui, &mut own.family, &families);
    Setting::new("Density", "g/cm³", 0.8..=1.6).step(0.01).show(ui, &mut own.density_g_per_cm3);
    Setting::new("Stiffness (modulus)", "MPa", 10.0..=10_000.0)
        .step(10.0)
        .logarithmic()
        .tip("How hard the plastic is to stretch: its modulus of elasticity, from the maker’s data sheet.")
        .show(ui, &mut own.modulus_mpa);
    Setting::new("Softens at", "°C", 40.0..=200.0).step(1.0).show(ui, &mut own.softening_c);
    Setting::new("Price per kilogram", &currency, 5.0..=300.0).step(1.0).show(ui, &mut own.price_per_kg);
    ui.label("Where the figures come from");
    let from = TextEdit::singleline(&mut own.source).hint_text("data sheet of the maker").char_limit(120);
    look::steady(ui, "source", |ui| field(ui, from.desired_width(f32::INFINITY)));
    let refused = own.refused.clone();
    ui.horizontal(|ui| {
        if look::tool(ui, Icon::Done, "Add it", true).on_hover_text(Action::KeepFilament.keys()).clicked() {
            desk.asked.0.push(Action::KeepFilament);
        }
        if look::button(ui, None, "Not now").on_hover_text(Action::DropFilament.keys()).clicked() {
            desk.asked.0.push(Action::DropFilament);
        }
    });
    if let Some(refused) = refused {
        look::problem(ui, &session::capitalised(&refused));
    }
}
