//! What the scan is of: site, side, squad number, title, unit.

use bevy_egui::egui::{ComboBox, TextEdit, Ui};
use engine::Warning;
use scan::{BodySite, ScanWarning, Side, Unit};
use session::{about, capitalised};

use crate::desk::Desk;
use crate::look::{choice, field, noted, section, steady};

/// Asks what it is.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(design) = desk.bench.session.design() else { return };
    let (mut site, mut side, mut name) = (design.site, design.side, design.title.clone());
    let number = design.squad_number.map(|n| n.to_string()).unwrap_or_default();
    section(ui, "About this scan");
    ComboBox::from_id_salt("site").width(ui.available_width()).selected_text(site.title()).show_ui(ui, |ui| {
        for of in BodySite::ALL {
            ui.selectable_value(&mut site, of, of.title());
        }
    });
    if Some(site) != desk.bench.session.design().map(|d| d.site) {
        desk.bench.session.edit("body site", |design| about::set_site(design, site));
    }
    if choice(ui, &mut side, &[(Side::Left, "Left"), (Side::Right, "Right"), (Side::Unknown, "Not given")]) {
        desk.bench.session.edit("side of the body", |design| about::set_side(design, side));
    }
    site_doubt(ui, desk);
    ui.horizontal(|ui| {
        ui.label("Squad number");
        let mut text = desk.view.scan.number.clone().unwrap_or(number);
        let field = steady(ui, "squad number", |ui| {
            field(ui, TextEdit::singleline(&mut text).desired_width(70.0).char_limit(4))
        });
        if field.changed() {
            let figures: String = text.chars().filter(char::is_ascii_digit).collect();
            let number = figures.parse().ok();
            desk.view.scan.number = Some(figures);
            desk.bench.session.edit_live("squad number", |design| about::set_number(design, number));
        }
        if field.lost_focus() {
            desk.view.scan.number = None;
            desk.bench.session.settle();
        }
    });
    number_doubt(ui, desk);
    ui.label("Title");
    // Two lines, so that the usual title is seen whole with large text too.
    let title = steady(ui, "title", |ui| {
        let edit = TextEdit::multiline(&mut name).desired_rows(2).return_key(None);
        field(ui, edit.desired_width(f32::INFINITY).char_limit(80))
    });
    if title.changed() {
        desk.bench.session.edit_live("title", |design| design.title = name.replace(['\n', '\r'], " "));
    }
    if title.lost_focus() {
        desk.bench.session.settle();
    }
}

/// A warning if the size of the limb does not match the site.
fn site_doubt(ui: &mut Ui, desk: &Desk<'_>) {
    let limb = desk.bench.session.derived().limb.value();
    let mut warnings = limb.iter().flat_map(|limb| &limb.report.warnings);
    let doubt = warnings
        .find(|warning| matches!(warning, ScanWarning::Site(_)))
        .map(|warning| capitalised(&warning.to_string()));
    noted(ui, 3, doubt.as_deref(), "Straps, wall and file names follow the body site and its side.");
}

/// A warning if the squad number is unusual.
fn number_doubt(ui: &mut Ui, desk: &Desk<'_>) {
    let session = &desk.bench.session;
    let found = session.design().map(|design| engine::warnings(design, &session.materials)).unwrap_or_default();
    let doubt = found
        .iter()
        .find(|w| matches!(w, Warning::UnusualNumber { .. }))
        .map(|warning| capitalised(&warning.to_string()));
    noted(ui, 3, doubt.as_deref(), "An athlete is known by number here, never by name.");
}

/// Asks in which unit the scanner saved.
pub fn unit(ui: &mut Ui, desk: &mut Desk<'_>) {
    section(ui, "Unit of the scan file");
    let Some(design) = desk.bench.session.design() else { return };
    // None is chosen until the user says which it is.
    let mut unit = design.clean.unit;
    let units = Unit::ALL.map(|u| {
        (
            Some(u),
            match u {
                Unit::Mm => "mm",
                Unit::Cm => "cm",
                Unit::M => "m",
                Unit::Inch => "inch",
            },
        )
    });
    if choice(ui, &mut unit, &units) {
        desk.bench.session.edit("unit of the scan", |design| design.clean.unit = unit);
    }
    size(ui, desk);
}

/// How large the limb is in that unit, or the question where the file does not say which it is.
fn size(ui: &mut Ui, desk: &Desk<'_>) {
    let limb = desk.bench.session.derived().limb.value();
    let open = limb
        .filter(|limb| !limb.report.unit.sure)
        .map(|limb| format!("In which unit did the scanner save? The file does not say: {}.", limb.report.unit.why));
    let size = limb.and_then(|limb| limb.skin.bounds()).map(|(low, high)| high - low);
    let size = size.map_or_else(String::new, |size| {
        format!("The limb is {:.0} mm long and {:.0} mm across.", size.z, size.x.max(size.y))
    });
    noted(ui, 4, open.as_deref(), &size);
}
