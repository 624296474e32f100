//! What strikes the guard and where, what it is worn on, and how it lies on the bed.

use bevy_egui::egui::{ComboBox, Ui};
use locker::{DesignFile, LINER_MM, Lies};

use crate::actions::Action;
use crate::desk::Desk;
use crate::look::icons::Icon;
use crate::look::{self, Setting};

/// Shows the blow.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>, design: &DesignFile) {
    let strength = &design.strength;
    look::section(ui, "Blow");
    let blows = &desk.view.material.choices.blows;
    let names: Vec<&String> = blows.iter().map(|(name, _)| name).collect();
    let chosen = choose(ui, "blow", &names, strength.blow.as_ref());
    let now = strength.blow.as_ref().or(names.first().copied());
    let after = blows.iter().find(|(name, _)| Some(name) == now).and_then(|(_, after)| after.as_ref());
    let told = match after {
        Some(after) => {
            format!("The striker of {after}, to compare with, not to certify. Click on the guard to strike it there.")
        }
        None => "To compare with. Click on the guard to strike it there.".to_owned(),
    };
    look::noted(ui, 3, None, &told);
    if let Some(name) = chosen {
        desk.bench.session.edit("blow", |design| design.strength.blow = name);
    }
    let is_aside = strength.at_mm.is_some();
    ui.add_enabled_ui(is_aside, |ui| {
        let middle = look::wide_button(ui, Some(Icon::SeeAll), "Strike its middle");
        if middle.on_hover_text(Action::StrikeMiddle.keys()).clicked() {
            desk.asked.0.push(Action::StrikeMiddle);
        }
    });
}

/// Shows the liner, what is under it, and how the guard is printed.
pub fn worn_on(ui: &mut Ui, desk: &mut Desk<'_>, design: &DesignFile) {
    let strength = &design.strength;
    look::section(ui, "Worn on");
    ui.label("Foam of the liner");
    let foams: Vec<&String> = desk.view.material.choices.foams.iter().collect();
    if let Some(name) = choose(ui, "foam", &foams, strength.foam.as_ref()) {
        desk.bench.session.edit("foam", |design| design.strength.foam = name);
    }
    let usual = engine::usual_liner_mm(&design.shell);
    let mut liner = strength.liner_mm.unwrap_or(usual);
    let setting = Setting::new("Thickness of the liner", "mm", LINER_MM[0]..=LINER_MM[1]).step(0.5);
    let moved = setting.tip("As thick as the gap, if it is not moved.").show(ui, &mut liner);
    if moved.changed {
        desk.bench.session.edit_live("liner", |design| design.strength.liner_mm = (liner != usual).then_some(liner));
    }
    if moved.let_go {
        desk.bench.session.settle();
    }
    ui.label("Under it");
    let places: Vec<String> = desk.view.material.choices.under(design.site).to_vec();
    let places: Vec<&String> = places.iter().collect();
    if let Some(name) = choose(ui, "under", &places, strength.under.as_ref()) {
        desk.bench.session.edit("what is under it", |design| design.strength.under = name);
    }
    ui.label("Lies on the printer’s bed");
    let mut lies = strength.lies;
    let ways = [
        (Lies::Upright, "Upright", "As in its print files: layers lie across the limb."),
        (Lies::Lying, "Lying", "On its back or its edges: layers lie along the limb. It needs more support."),
    ];
    if look::choice_with_tips(ui, &mut lies, &ways) {
        desk.bench.session.edit("how it lies on the bed", |design| design.strength.lies = lies);
    }
}

/// One of several names; the new choice, which is left out where it is the first.
#[allow(clippy::option_option)]
fn choose(ui: &mut Ui, id: &str, names: &[&String], now: Option<&String>) -> Option<Option<String>> {
    let at = names.iter().position(|name| Some(*name) == now).unwrap_or(0);
    // A name that is not known is shown as it is.
    let shown = now.filter(|now| !names.contains(now)).or(names.get(at).copied()).cloned().unwrap_or_default();
    let mut chosen = at;
    ComboBox::from_id_salt(id).width(ui.available_width()).selected_text(shown).show_ui(ui, |ui| {
        for (n, name) in names.iter().enumerate() {
            ui.selectable_value(&mut chosen, n, name.as_str());
        }
    });
    (chosen != at).then(|| names.get(chosen).filter(|_| chosen > 0).map(|name| (*name).clone()))
}
