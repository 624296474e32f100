//! The material step: the filaments side by side on this guard, what another wall changes, the user's own filaments.

mod figures;
mod own_filament;

use std::sync::Arc;

use bevy_egui::egui::Ui;
use mechanics::{Family, MaterialTable};
use shell::limits;

use crate::actions::Action;
use crate::commands::material::{choices, take};
use crate::desk::Desk;
use crate::look::icons::Icon;
use crate::look::{self, Setting};

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    look::title(ui, "Material");
    let session = &desk.bench.session;
    let design = session.document().map(|document| Arc::clone(document.history().now()));
    let table = design.and_then(|d| session.derived().materials(&d, &session.materials).map(|table| (d, table)));
    let Some((design, table)) = table else {
        // What stands below would move once the shell is there.
        if session.derived().zone.value().is_some() && session.derived().problem().is_none() {
            look::remark(ui, "The shell is being made; the filaments are compared on it.");
        } else {
            look::remark(ui, "There is no shell to weigh yet. Paint the zone and shape the shell first.");
            own_filament::show(ui, desk);
        }
        return;
    };
    let wall = design.shell.thickness_mm;
    let other = desk.view.material.wall_mm.filter(|mm| *mm != wall);
    let shown = match other {
        Some(mm) => mechanics::what_if(table.volume_mm3, table.area_mm2, &design.shell, mm, &session.materials),
        None => table.clone(),
    };
    let row = shown.row(design.material, design.filament.as_deref());
    let chosen = row.map(|row| row.name.clone()).unwrap_or_default();
    choose(ui, desk, &chosen, &shown);
    figures::show(ui, &shown, &chosen, other.map(|_| &table));
    what_if(ui, desk, wall, other);
    look::section(ui, "Please note");
    if let Some(row) = row {
        ui.label(&row.heat_caution);
    }
    look::remark(ui, "Stiffness is that of the wall with its ribs; it compares materials and is not a strength.");
    look::remark(ui, print::NOT_CERTIFIED);
    own_filament::show(ui, desk);
}

fn choose(ui: &mut Ui, desk: &mut Desk<'_>, chosen: &str, table: &MaterialTable) {
    look::section(ui, "Filament");
    let wanted = desk.bench.session.design().and_then(|design| design.filament.clone());
    if let Some(wanted) = wanted.filter(|name| name != chosen) {
        look::problem(
            ui,
            &format!("{wanted} is not among the filaments here; {chosen} is taken. Add it below, or choose."),
        );
    }
    for (family, filament) in choices(&desk.bench.session.materials.materials) {
        let Some(name) = table.row(family, filament.as_deref()).map(|row| row.name.as_str()) else { continue };
        let word = family.word();
        let text = format!("{}{}: {name}", word[..1].to_uppercase(), &word[1..]);
        let is_chosen = name == chosen;
        let pressed = if is_chosen { look::tool(ui, Icon::Done, &text, true) } else { look::button(ui, None, &text) };
        if pressed.on_hover_text(kind_of_filament(family)).clicked() && !is_chosen {
            take(desk.bench, (family, filament));
        }
    }
}

/// A kind of filament in a sentence.
fn kind_of_filament(family: Family) -> &'static str {
    match family {
        Family::Rigid => {
            "Rigid: hard plastic that holds its shape and hardly bends, such as PLA; it spreads a blow best."
        }
        Family::SemiRigid => "Semi-rigid: tough plastic that gives a little before it breaks, such as PETG.",
        Family::Flexible => "Flexible: rubbery plastic that bends with the limb, such as TPU; it spreads a blow least.",
    }
}

fn what_if(ui: &mut Ui, desk: &mut Desk<'_>, wall: f32, other: Option<f32>) {
    look::section(ui, "What if the wall were");
    let mut mm = other.unwrap_or(wall);
    let limit = limits::THICKNESS;
    if Setting::new("Wall", "mm", limit.least..=limit.most).show(ui, &mut mm).changed {
        desk.view.material.wall_mm = Some(mm);
    }
    // The buttons keep their place while there is nothing to take.
    ui.add_enabled_ui(other.is_some(), |ui| {
        ui.horizontal(|ui| {
            let take = look::tool(ui, Icon::Done, &format!("Take {:.1} mm", other.unwrap_or(wall)), other.is_some());
            if take.on_hover_text(Action::TakeWall.keys()).clicked() {
                desk.asked.0.push(Action::TakeWall);
            }
            let leave = look::button(ui, None, &format!("Back to {wall:.1} mm"));
            if leave.on_hover_text(Action::LeaveWall.keys()).clicked() {
                desk.asked.0.push(Action::LeaveWall);
            }
        });
    });
    let told = match other {
        Some(_) => "The figures above are estimates for that wall, with vents and rim counted as square-edged.",
        None => "Figures above follow; the design stays as it is until you take it.",
    };
    look::noted(ui, 3, None, told);
}
