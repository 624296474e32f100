//! The print step: the bed, what it weighs and costs, and the files for the printer.

use bevy_egui::egui::{CollapsingHeader, Key, RichText, TextEdit, Ui};
use engine::FileUse;
use mechanics::MaterialRow;
use print::bed::OnBed;

use crate::actions::Action;
use crate::desk::Desk;
use crate::look::icons::Icon;
use crate::look::{bold, button, field, figure, noted, primary, remark, section, steady, title};
use crate::state::print::AskedBed;

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
    let size = shell.bounds.map(|(low, high)| high - low);
    let table = session.derived().materials(design, &session.materials);
    let row = table.as_ref().and_then(|t| t.row(design.material, design.filament.as_deref()));
    // Lines that are not known yet keep their place.
    let told = |text: Option<String>| text.unwrap_or_else(|| "…".to_owned());
    let size = size.map(|size| format!("{:.0} × {:.0} × {:.0} high", size.x, size.y, size.z));
    figure(ui, "Size, mm", &told(size));
    figure(ui, "Filament", &told(row.map(|row| row.name.clone())));
    figure(ui, "Weight, printed solid", &told(row.map(|row| format!("{:.0} g", row.grams))));
    figure(ui, "Cost of the filament", &told(row.map(cost)));
    let cautions = print::cautions(row);
    ui.add_space(6.0);
    save_button(ui, desk, current);
    bed(ui, desk);
    saved(ui, desk);
    explained(ui, desk);
    section(ui, "Before it is worn");
    cautions.into_iter().for_each(|caution| drop(ui.label(caution)));
}

/// What is made and what to mind, folded away.
fn explained(ui: &mut Ui, desk: &Desk<'_>) {
    let Some(design) = desk.bench.session.design() else { return };
    let open = desk.view.opened_out.then_some(true);
    ui.add_space(6.0);
    CollapsingHeader::new("What is made").open(open).show(ui, |ui| {
        for (what, how) in print::words::design(&design.shell) {
            ui.label(bold(what));
            ui.label(how);
        }
    });
    CollapsingHeader::new("Before you print").open(open).show(ui, |ui| {
        print::print_hints().iter().for_each(|hint| drop(ui.label(*hint)));
        ui.horizontal_wrapped(|ui| {
            remark(ui, "Terms:");
            for (term, tip) in TERMS {
                ui.label(RichText::new(term).underline()).on_hover_text(tip);
            }
        });
    });
}

/// Words of printing, each with what it means in a sentence.
const TERMS: [(&str, &str); 5] = [
    ("infill", "How much of the room between the outer walls of a print is filled with plastic: 100 % is solid."),
    ("walls", "The lines that the printer lays along the outside of each layer; enough of them fill a thin part."),
    ("layer", "One of the thin sheets that a print is built up from, one on the other."),
    ("supports", "Thin props under what hangs over, printed with the part and broken off afterwards."),
    (
        "printer’s program",
        "The program that turns a part into the printer’s movements; printer people call it a slicer.",
    ),
];

fn cost(row: &MaterialRow) -> String {
    format!("{:.2} to {:.2} {}", row.cost_low, row.cost_high, row.currency)
}

/// How large the printer is, asked once, and whether the part fits on its bed.
fn bed(ui: &mut Ui, desk: &mut Desk<'_>) {
    section(ui, "Your printer");
    let known = desk.bench.session.preferences.known_bed_mm();
    if known.is_none() && desk.view.print.asked_bed.is_none() {
        desk.view.print.asked_bed = Some(AskedBed::default());
    }
    if desk.view.print.asked_bed.is_some() {
        ask_bed(ui, desk);
    } else if let Some([width, depth, height]) = known {
        figure(ui, "Largest print, mm", &format!("{width:.0} × {depth:.0} × {height:.0} high"));
        if press(ui, desk, None, "Another printer…", Action::AskBed) {
            return;
        }
    }
    let laid = desk.view.print.laid.as_ref();
    let (told, fits) = match laid {
        Some(laid) => (on_bed(laid), laid.fits()),
        None if known.is_none() => ("It has not been checked whether the guard fits your printer.".to_owned(), false),
        None => (String::new(), true),
    };
    noted(ui, 4, (!fits).then_some(told.as_str()), &told);
}

/// Asks for width, depth and height.
fn ask_bed(ui: &mut Ui, desk: &mut Desk<'_>) {
    remark(ui, "How large a part can it print? Its manual says so. Asked once and remembered.");
    let Some(asked) = &mut desk.view.print.asked_bed else { return };
    let mut entered = false;
    ui.columns(3, |columns| {
        for ((ui, text), name) in columns.iter_mut().zip(&mut asked.typed).zip(["Width", "Depth", "Height"]) {
            ui.label(format!("{name}, mm"));
            let field =
                steady(ui, name, |ui| field(ui, TextEdit::singleline(text).desired_width(f32::INFINITY).char_limit(8)));
            entered |= field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
            if field.changed() {
                asked.refusal = None;
            }
        }
    });
    noted(ui, 2, asked.refusal.as_deref(), "");
    if entered {
        desk.asked.0.push(Action::KeepBed);
    }
    press(ui, desk, None, "Remember it", Action::KeepBed);
}

/// A button for an action, with its key as its tip; whether it was pressed.
fn press(ui: &mut Ui, desk: &mut Desk<'_>, icon: Option<Icon>, text: &str, action: Action) -> bool {
    let pressed = button(ui, icon, text).on_hover_text(action.keys()).clicked();
    if pressed {
        desk.asked.0.push(action);
    }
    pressed
}

/// How the part lies on the bed, in a sentence.
fn on_bed(laid: &OnBed) -> String {
    if let Some([width, depth, height]) = laid.on_side_mm {
        return format!(
            "It does not fit as it stands. Lay it on its side in the printer’s program: there it takes {width:.0} × \
             {depth:.0} × {height:.0} mm and fits."
        );
    }
    if laid.height_room_mm < 0.0 && laid.room_mm >= 0.0 {
        return format!(
            "It is {:.0} mm too high for this printer, even laid on its side. Print it on a larger printer, or make the \
             zone shorter.",
            -laid.height_room_mm
        );
    }
    if !laid.fits() {
        return format!(
            "It does not fit this printer, however it is turned or laid: it is {:.0} mm too large. Print it on a larger \
             printer, or make the zone shorter.",
            -laid.room_mm
        );
    }
    if laid.turn_deg == 0.0 {
        "It fits as it stands.".to_owned()
    } else if laid.turn_deg == 90.0 {
        "It fits when turned by 90° in the printer’s program.".to_owned()
    } else {
        format!("It fits on the diagonal: turn it by {:.0}° in the printer’s program.", laid.turn_deg)
    }
}

/// The button that saves all that the printer needs: in sight without scrolling.
fn save_button(ui: &mut Ui, desk: &mut Desk<'_>, current: bool) {
    let busy = desk.bench.session.is_exporting();
    if ui
        .add_enabled_ui(!busy, |ui| primary(ui, Some(Icon::Save), "Save print files…"))
        .inner
        .on_hover_text(Action::Export.keys())
        .clicked()
    {
        desk.asked.0.push(Action::Export);
    }
    let told = if busy {
        "The files are being made; see the line below."
    } else if current {
        "All files go into one folder; this panel then shows which ones go to the printer."
    } else {
        "The fine shell is still being made; the files will have it."
    };
    noted(ui, 2, None, told);
}

/// What was saved, and what each file is for.
fn saved(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some((folder, report)) = &desk.bench.files.exported else { return };
    ui.label(bold(format!("Saved in {}", folder.display())));
    let (printer, rest): (Vec<_>, Vec<_>) = report.files.iter().partition(|file| file.usage == FileUse::Printer);
    ui.label(bold("For the printer, any one of these:"));
    printer.iter().for_each(|file| drop(ui.label(&file.name)));
    ui.label(bold("To keep with the guard:"));
    for file in rest {
        ui.label(&file.name);
        remark(ui, file.what);
    }
    press(ui, desk, Some(Icon::Folder), "Open the folder", Action::OpenFolder);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bed_is_told_in_plain_words() {
        let laid = |turn_deg, room_mm| OnBed {
            turn_deg,
            room_mm,
            size_mm: [100.0, 50.0],
            height_room_mm: 10.0,
            on_side_mm: None,
        };
        assert_eq!(on_bed(&laid(0.0, 3.0)), "It fits as it stands.");
        assert!(on_bed(&laid(90.0, 0.0)).contains("by 90°"));
        assert!(on_bed(&laid(44.5, 0.1)).contains("diagonal"));
        assert!(on_bed(&laid(44.5, -12.4)).contains("12 mm too large"));
        let high = OnBed { height_room_mm: -7.2, ..laid(0.0, 3.0) };
        assert!(on_bed(&high).contains("7 mm too high"));
        assert!(on_bed(&OnBed { on_side_mm: Some([90.0, 50.0, 40.4]), ..high }).contains("90 × 50 × 40 mm"));
    }
}
