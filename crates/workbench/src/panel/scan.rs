//! The scan step: what it is, how it was cleaned, and what to begin with.

use bevy_egui::egui::{CollapsingHeader, ComboBox, TextEdit, Ui};
use scan::{BodySite, CleanSettings, Placement, Side, Unit};
use session::about;
use session::crop::Ends;

use super::Desk;
use crate::actions::Action;
use crate::look::icons::Icon;
use crate::look::{Setting, choice, problem, remark, section, section_with_sign, switch, title, wide_button};

/// Least length of limb that cutting leaves, mm.
const LEAST_LEFT_MM: f32 = 30.0;

/// What this panel keeps between frames.
#[derive(Debug, Clone, Default)]
pub struct ScanView {
    /// Lowest and highest point of the limb before its ends were cut, for the axes that it stood on.
    whole: Option<(Placement, f32, f32)>,
    /// Cuts as the hand on the slider has them, not yet made.
    cut: Option<Ends>,
    /// The squad number as it is typed.
    number: Option<String>,
}

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    title(ui, "Scan");
    if desk.bench.session.document().is_none() {
        if desk.bench.session.is_opening() {
            remark(ui, "Opening. The scan is shown as it came until it is clean.");
        } else {
            remark(ui, "Open a scan (STL, OBJ or PLY) or a design, or drop the file on this window.");
            super::files::start(ui, desk);
        }
        return;
    }
    about_it(ui, desk);
    unit(ui, desk);
    report(ui, desk);
    ends(ui, desk);
    cleaning(ui, desk);
    left_alone(ui, desk);
    super::files::watched(ui, desk);
    ui.add_space(8.0);
    if wide_button(ui, Some(Icon::Open), "Open another scan or design…").clicked() {
        desk.asked.0.push(Action::Open);
    }
}

const SITES: [(BodySite, &str); 8] = [
    (BodySite::Forearm, "Forearm"),
    (BodySite::Wrist, "Wrist and hand"),
    (BodySite::Shoulder, "Shoulder"),
    (BodySite::Ribs, "Ribs"),
    (BodySite::Thigh, "Thigh"),
    (BodySite::Shin, "Shin"),
    (BodySite::Ankle, "Ankle and foot"),
    (BodySite::Other, "Another place"),
];

fn about_it(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(design) = desk.bench.session.design() else { return };
    let (mut site, mut side, mut name) = (design.site, design.side, design.title.clone());
    let number = design.squad_number.map(|n| n.to_string()).unwrap_or_default();
    section(ui, "What it is");
    let chosen = SITES.iter().find(|s| s.0 == site).map_or("Another place", |s| s.1);
    ComboBox::from_id_salt("site").width(ui.available_width()).selected_text(chosen).show_ui(ui, |ui| {
        for (of, name) in SITES {
            ui.selectable_value(&mut site, of, name);
        }
    });
    if Some(site) != desk.bench.session.design().map(|d| d.site) {
        desk.bench.session.edit("body site", |design| about::set_site(design, site));
    }
    if choice(ui, &mut side, &[(Side::Left, "Left"), (Side::Right, "Right"), (Side::Unknown, "Not said")]) {
        desk.bench.session.edit("side of the body", |design| about::set_side(design, side));
    }
    ui.horizontal(|ui| {
        ui.label("Squad number");
        let mut text = desk.view.scan.number.clone().unwrap_or(number);
        let field = ui.add(TextEdit::singleline(&mut text).desired_width(70.0).char_limit(4));
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
    ui.horizontal(|ui| {
        ui.label("Title");
        let field = ui.add(TextEdit::singleline(&mut name).desired_width(ui.available_width()).char_limit(80));
        if field.changed() {
            desk.bench.session.edit_live("title", |design| design.title = name);
        }
        if field.lost_focus() {
            desk.bench.session.settle();
        }
    });
}

fn unit(ui: &mut Ui, desk: &mut Desk<'_>) {
    section(ui, "Unit of the scan file");
    let Some(limb) = desk.bench.session.derived().limb.value().cloned() else { return };
    if !limb.report.unit.sure {
        problem(ui, &format!("In which unit did the scanner save? The file does not say: {}.", limb.report.unit.why));
    }
    let Some(design) = desk.bench.session.design() else { return };
    // None is chosen while the question is open.
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
    if let Some((low, high)) = limb.skin.mesh().bounds() {
        let size = high - low;
        remark(ui, &format!("The limb is {:.0} mm long and {:.0} mm across.", size.z, size.x.max(size.y)));
    }
}

/// What cleaning changed.
fn report(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(limb) = desk.bench.session.derived().limb.value().cloned() else { return };
    // The unit has its own question above.
    for warning in limb.report.warnings.iter().filter(|w| !w.starts_with("Unit:")) {
        problem(ui, warning);
    }
    let steps: Vec<_> = limb.report.steps.iter().filter(|s| s.changed).collect();
    if steps.is_empty() {
        return;
    }
    section(ui, "What was done");
    for step in steps {
        remark(ui, &format!("· {}", step.sentence));
    }
}

/// What cleaning looked at and did not change, folded away.
fn left_alone(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(limb) = desk.bench.session.derived().limb.value().cloned() else { return };
    ui.add_space(8.0);
    CollapsingHeader::new("Looked at and left alone").id_salt("left alone").show(ui, |ui| {
        for step in limb.report.steps.iter().filter(|s| !s.changed) {
            remark(ui, &format!("· {}", step.sentence));
        }
    });
}

/// Two sliders that cut the ends off.
fn ends(ui: &mut Ui, desk: &mut Desk<'_>) {
    section_with_sign(ui, Icon::Crop, "Cut the ends off");
    let session = &mut desk.bench.session;
    let (Some(design), Some(limb)) = (session.design(), session.derived().limb.value()) else { return };
    let placement = design.placement;
    let made = Ends::of(&design.clean.crop, &placement);
    let keep = &mut desk.view.scan;
    if keep.whole.is_some_and(|(of, ..)| of != placement) {
        keep.whole = None;
    }
    let bounds = limb.skin.mesh().bounds().map(|(low, high)| (low.z, high.z));
    if made == Ends::default() && keep.cut.is_none() {
        keep.whole = bounds.map(|(low, high)| (placement, low, high));
    } else if keep.whole.is_none() {
        // Opened with its ends cut: the scan itself says how far it reached.
        let scan = session.document().map(|d| &d.scan().scan.mesh.points).into_iter().flatten();
        let heights = scan.map(|p| placement.limb_from_scan(&p.cast()).z as f32);
        let (low, high) = heights.fold((f32::INFINITY, f32::NEG_INFINITY), |(l, h), z| (l.min(z), h.max(z)));
        keep.whole = (low < high).then_some((placement, low, high));
    }
    let Some((_, low, high)) = keep.whole else { return };
    let shown = keep.cut.unwrap_or(made);
    let most = 0.5 * (high - low - LEAST_LEFT_MM).max(0.0);
    let mut below = shown.low_mm.map_or(0.0, |z| z - low).clamp(0.0, most);
    let mut above = shown.high_mm.map_or(0.0, |z| high - z).clamp(0.0, most);
    let one = Setting::new("Upper end", "mm", 0.0..=most).step(1.0).show(ui, &mut above);
    let two = Setting::new("Lower end", "mm", 0.0..=most).step(1.0).show(ui, &mut below);
    if one.changed || two.changed {
        let end = |cut: f32, z: f32| (cut > 0.0).then_some(z);
        keep.cut = Some(Ends { low_mm: end(below, low + below), high_mm: end(above, high - above) });
    }
    if (one.let_go || two.let_go)
        && let Some(cut) = keep.cut.take()
    {
        session.edit("cut the ends off", |design| {
            let placement = design.placement;
            cut.put(&mut design.clean.crop, &placement);
        });
    }
}

fn cleaning(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(design) = desk.bench.session.design() else { return };
    let mut clean = design.clean.clone();
    let usual = CleanSettings::default();
    section(ui, "Cleaning");
    let on_off = |ui: &mut Ui, on: bool, text: &str| {
        let mut now = on;
        switch(ui, &mut now, text);
        (now != on).then_some(now)
    };
    if let Some(on) = on_off(ui, clean.mend, "Mend triangles") {
        clean.mend = on;
    }
    if let Some(on) = on_off(ui, clean.remove_table_plane, "Take the table away") {
        clean.remove_table_plane = on;
    }
    if let Some(on) = on_off(ui, clean.drop_small_pieces, "Drop loose pieces") {
        clean.drop_small_pieces = on;
    }
    if let Some(on) = on_off(ui, clean.smooth > 0.0, "Take scanner noise off") {
        clean.smooth = if on { usual.smooth } else { 0.0 };
    }
    if let Some(on) = on_off(ui, clean.fill_holes_mm > 0.0, "Fill holes") {
        clean.fill_holes_mm = if on { usual.fill_holes_mm } else { 0.0 };
    }
    if let Some(on) = on_off(ui, clean.longest_edge_mm.is_some(), "Split long triangles") {
        clean.longest_edge_mm = usual.longest_edge_mm.filter(|_| on);
    }
    if let Some(on) = on_off(ui, clean.upright, "Stand the limb upright") {
        clean.upright = on;
    }
    if let Some(on) = on_off(ui, clean.mirror, "Mirror: left becomes right") {
        clean.mirror = on;
    }
    if Some(&clean) != desk.bench.session.design().map(|d| &d.clean) {
        desk.bench.session.edit("cleaning", |design| {
            if clean.mirror != design.clean.mirror {
                let other = match design.side {
                    Side::Left => Side::Right,
                    Side::Right => Side::Left,
                    Side::Unknown => Side::Unknown,
                };
                about::set_side(design, other);
            }
            design.clean = clean;
        });
    }
}
