//! The material step: what strikes the guard, the filaments side by side on it, what another wall changes, the lightest guard
//! that holds, the user's own filaments.

mod blow;
mod figures;
mod lightest;
mod own_filament;

use std::sync::Arc;

use bevy_egui::egui::Ui;
use engine::{StrengthMap, scale_of};
use locker::DesignFile;
use mechanics::{Family, MaterialTable};
use shell::limits;

use self::figures::Shown;
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
    let row = table.row(design.material, design.filament.as_deref());
    let chosen = row.map(|row| row.name.clone()).unwrap_or_default();
    choose(ui, desk, &chosen, &table);
    seen(ui, desk, &design);
    blow::show(ui, desk, &design);
    {
        let derived = desk.bench.session.derived();
        let strength = derived.strength_now(&design);
        let tried = other.and_then(|_| derived.tried_now(&design)).map(|report| &**report);
        if let Some(problem) = derived.strength.problem() {
            look::problem(ui, &session::capitalised(&problem.sentence));
        }
        figures::show(ui, &Shown { table: &table, strength, other: tried, chosen: &chosen });
        let row = strength.and_then(|report| report.row(design.material, design.filament.as_deref()));
        figures::of_chosen(ui, row, &chosen);
    }
    blow::worn_on(ui, desk, &design);
    other_wall(ui, desk, wall, other);
    lightest::show(ui, desk, &design);
    look::section(ui, "Please note");
    if let Some(row) = row {
        ui.label(&row.heat_caution);
    }
    for notice in
        desk.bench.session.derived().strength_now(&design).map(|report| report.notices.as_slice()).unwrap_or_default()
    {
        look::remark(ui, notice);
    }
    look::remark(ui, engine::STRENGTH_CAUTION);
    look::remark(ui, print::NOT_CERTIFIED);
    own_filament::show(ui, desk);
}

/// What is shown in colours, with its legend and where it is greatest.
fn seen(ui: &mut Ui, desk: &mut Desk<'_>, design: &DesignFile) {
    look::section(ui, "Shown");
    let ways = [
        (None, "Guard", "The guard as it is."),
        (Some(StrengthMap::Stress), "Stress", "The stress at both faces, as a share of what the print bears there."),
        (Some(StrengthMap::Dent), "Dent", "How far the guard is pushed in."),
        (Some(StrengthMap::Pressure), "On the skin", "The pressure on the skin under the guard."),
    ];
    look::choice_with_tips(ui, &mut desk.view.material.map, &ways);
    let map = desk.view.material.map;
    let drawn = desk.bench.session.derived().strength_map_now(design);
    match (map, drawn) {
        (Some(map), Some(drawn)) => {
            look::legend(ui, scale_of(map, drawn.values.most), map.unit());
            let most = print::words::two_digits(f64::from(drawn.values.most));
            look::noted(ui, 2, None, &format!("{} {most} {}. {}", what(map), map.unit(), means(map)));
        }
        (Some(map), None) => {
            look::legend(ui, scale_of(map, 1.0), map.unit());
            look::noted(ui, 2, None, "Being computed…");
        }
        (None, _) => {}
    }
}

fn what(map: StrengthMap) -> &'static str {
    match map {
        StrengthMap::Stress => "Greatest stress:",
        StrengthMap::Dent => "Deepest:",
        StrengthMap::Pressure => "Greatest pressure:",
    }
}

fn means(map: StrengthMap) -> &'static str {
    match map {
        StrengthMap::Stress => "At 100 % it gives way.",
        StrengthMap::Dent => "Told for the moment of the greatest force.",
        StrengthMap::Pressure => "The guard is left out of sight.",
    }
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

fn other_wall(ui: &mut Ui, desk: &mut Desk<'_>, wall: f32, other: Option<f32>) {
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
    let is_told =
        desk.bench.session.design().is_some_and(|design| desk.bench.session.derived().tried_now(design).is_some());
    let told = match other {
        Some(_) if is_told => "The figures above are those of that wall, computed in the same way.",
        Some(_) => "Being computed for that wall…",
        None => "Figures above follow; the design stays as it is until you take it.",
    };
    look::noted(ui, 2, None, told);
}
