//! The print step: the bed, what it weighs and costs, and the files for the printer.

use bevy_egui::egui::{DragValue, Ui};
use mechanics::MaterialRow;
use print::bed::OnBed;

use crate::actions::Action;
use crate::desk::Desk;
use crate::look::icons::Icon;
use crate::look::{bold, button, figure, primary, problem, remark, section, steady, title};

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    title(ui, "Print");
    let session = &desk.bench.session;
    let Some(design) = session.design() else {
        ui.label("Open a scan first.");
        return;
    };
    let Some(shell) = session.derived().best_shell(design) else {
        ui.label("There is no shell yet. Mark the zone; the shell follows by itself.");
        return;
    };
    let current = session.derived().shell_is_current(design);
    let size = desk.view.print.size_of(shell);
    let table = session.derived().materials(design, &session.materials);
    let row = table.as_ref().and_then(|t| t.row(design.material, design.filament.as_deref()));
    if let Some(size) = size {
        figure(ui, "Size, mm", &format!("{:.0} × {:.0} × {:.0} high", size.x, size.y, size.z));
    }
    if let Some(row) = row {
        figure(ui, "Filament", &row.name);
        figure(ui, "Weight, printed solid", &format!("{:.0} g", row.grams));
        figure(ui, "Cost of the filament", &cost(row));
    }
    bed(ui, desk);
    ui.add_space(6.0);
    save_buttons(ui, desk, current);
    ui.add_space(6.0);
    let Some(design) = desk.bench.session.design() else { return };
    ui.collapsing("What is made", |ui| {
        for (what, how) in print::words::design(&design.shell) {
            ui.label(bold(what));
            ui.label(how);
        }
    });
    ui.collapsing("Before you print", |ui| {
        print::print_hints().iter().for_each(|hint| drop(ui.label(*hint)));
    });
    section(ui, "Before it is worn");
    print::cautions().iter().for_each(|caution| drop(ui.label(*caution)));
}

fn cost(row: &MaterialRow) -> String {
    format!("{:.2} to {:.2} {}", row.cost_low, row.cost_high, row.currency)
}

/// Sides of the bed, and whether the part lies on it.
fn bed(ui: &mut Ui, desk: &mut Desk<'_>) {
    let preferences = &desk.bench.session.preferences;
    let mut sides = preferences.bed_mm.unwrap_or_default();
    if preferences.known_bed_mm().is_none() {
        remark(ui, "How large is the room in the printer? It is asked once; until then the fit is not checked.");
    }
    let before = sides;
    let mut done = false;
    ui.label("Room in the printer, mm");
    ui.horizontal(|ui| {
        let fields = [("bed, across", "×"), ("bed, along", "×"), ("bed, height", "high")];
        for (side, (name, between)) in sides.iter_mut().zip(fields) {
            let number = DragValue::new(side).range(0.0..=*session::BED_MM.end()).speed(1.0).max_decimals(0);
            let field = steady(ui, name, |ui| ui.add(number));
            done |= field.drag_stopped() || field.lost_focus();
            ui.label(between);
        }
    });
    let preferences = &mut desk.bench.session.preferences;
    if sides != before {
        preferences.bed_mm = Some(sides);
    }
    if done {
        desk.bench.session.keep_preferences();
    }
    if let Some(laid) = &desk.view.print.laid {
        if laid.fits() {
            ui.label(on_bed(laid));
        } else {
            problem(ui, &on_bed(laid));
        }
    }
}

/// How the part lies on the bed, in a sentence.
fn on_bed(laid: &OnBed) -> String {
    if laid.height_room_mm < 0.0 && laid.room_mm >= 0.0 {
        return format!(
            "It is {:.0} mm too high for this printer. Lay it on its side in the slicer, print it on a larger printer, or \
             make the zone shorter.",
            -laid.height_room_mm
        );
    }
    if !laid.fits() {
        return format!(
            "It does not fit this bed, however it is turned: {:.0} mm are missing. Lay it on its side in the slicer, \
             print it on a larger printer, or make the zone shorter.",
            -laid.room_mm
        );
    }
    if laid.turn_deg == 0.0 {
        "It fits as it stands.".to_owned()
    } else if laid.turn_deg == 90.0 {
        "It fits when turned by 90° in the slicer.".to_owned()
    } else {
        format!("It fits on the diagonal: turn it by {:.0}° in the slicer.", laid.turn_deg)
    }
}

fn save_buttons(ui: &mut Ui, desk: &mut Desk<'_>, current: bool) {
    let busy = desk.bench.session.is_exporting();
    if ui.add_enabled_ui(!busy, |ui| primary(ui, Some(Icon::Save), "Save print files…")).inner.clicked() {
        desk.asked.0.push(Action::Export);
    }
    if busy {
        ui.label("The files are being made; see the line below.");
    } else if !current {
        remark(ui, "The fine shell is still being made; the files get it anyhow.");
    }
    let Some((folder, report)) = &desk.bench.files.exported else { return };
    ui.label(bold(format!("Saved in {}", folder.display())));
    for file in &report.files {
        ui.label(&file.name).on_hover_text(file.what);
    }
    if button(ui, Some(Icon::Folder), "Open the folder").clicked() {
        desk.asked.0.push(Action::OpenFolder);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bed_is_told_in_plain_words() {
        let laid = |turn_deg, room_mm| OnBed { turn_deg, room_mm, size_mm: [100.0, 50.0], height_room_mm: 10.0 };
        assert_eq!(on_bed(&laid(0.0, 3.0)), "It fits as it stands.");
        assert!(on_bed(&laid(90.0, 0.0)).contains("by 90°"));
        assert!(on_bed(&laid(44.5, 0.1)).contains("diagonal"));
        assert!(on_bed(&laid(44.5, -12.4)).contains("12 mm are missing"));
        assert!(on_bed(&OnBed { height_room_mm: -7.2, ..laid(0.0, 3.0) }).contains("7 mm too high"));
    }
}
