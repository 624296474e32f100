//! The scan step: what it is, how it was cleaned, and what to begin with.

use bevy_egui::egui::{CollapsingHeader, ComboBox, TextEdit, Ui};
use scan::{BodySite, CleanSettings, Placement, ScanWarning, Side, Unit};
use session::crop::Ends;
use session::{Session, about};

use super::Desk;
use crate::actions::Action;
use crate::bench::Bench;
use crate::files::{Next, Purpose};
use crate::look::icons::Icon;
use crate::look::{Setting, choice, problem, remark, section, section_with_sign, steady, switch, title, wide_button};
use crate::overlay::Outlines;
use crate::view::View;

/// Least length of limb that cutting leaves, mm.
const LEAST_LEFT_MM: f32 = 30.0;

/// What this panel keeps between frames.
#[derive(Debug, Default)]
pub struct ScanView {
    /// Lowest and highest point of the limb before its ends were cut, for the axes that it stood on.
    whole: Option<(Placement, f32, f32)>,
    /// Cuts as the hand on the slider has them, not yet made.
    cut: Option<Ends>,
    /// Which of them it moves: the lower, the upper.
    moves: [bool; 2],
    /// Where the planes in the hand meet the skin.
    pub(crate) outlines: Outlines,
    /// The squad number as it is typed.
    number: Option<String>,
}

impl ScanView {
    /// The cuts that the hand is moving: height on the limb and how much goes, mm.
    pub fn cuts_in_hand(&self) -> Vec<(f32, f32)> {
        let (Some((_, low, high)), Some(cut)) = (self.whole, self.cut) else { return Vec::new() };
        let lower = cut.low_mm.unwrap_or(low);
        let upper = cut.high_mm.unwrap_or(high);
        let both = [(self.moves[0], lower, lower - low), (self.moves[1], upper, high - upper)];
        both.into_iter().filter(|(moves, ..)| *moves).map(|(_, z, off)| (z, off)).collect()
    }
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

fn about_it(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(design) = desk.bench.session.design() else { return };
    let (mut site, mut side, mut name) = (design.site, design.side, design.title.clone());
    let number = design.squad_number.map(|n| n.to_string()).unwrap_or_default();
    section(ui, "What it is");
    ComboBox::from_id_salt("site").width(ui.available_width()).selected_text(site.title()).show_ui(ui, |ui| {
        for of in BodySite::ALL {
            ui.selectable_value(&mut site, of, of.title());
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
        let field =
            steady(ui, "squad number", |ui| ui.add(TextEdit::singleline(&mut text).desired_width(70.0).char_limit(4)));
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
        let field = steady(ui, "title", |ui| {
            ui.add(TextEdit::singleline(&mut name).desired_width(ui.available_width()).char_limit(80))
        });
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
    if let Some((low, high)) = limb.skin.bounds() {
        let size = high - low;
        remark(ui, &format!("The limb is {:.0} mm long and {:.0} mm across.", size.z, size.x.max(size.y)));
    }
}

/// What cleaning changed.
fn report(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(limb) = desk.bench.session.derived().limb.value().cloned() else { return };
    // The unit has its own question above.
    for warning in limb.report.warnings.iter().filter(|w| !matches!(w, ScanWarning::UnitUnsure { .. })) {
        problem(ui, &warning.to_string());
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

/// Lowest and highest point of the limb with its ends on, mm.
fn whole(keep: &mut ScanView, session: &Session) -> Option<(f32, f32)> {
    let (design, limb) = (session.design()?, session.derived().limb.value()?);
    let placement = design.placement;
    if keep.whole.is_some_and(|(of, ..)| of != placement) {
        keep.whole = None;
    }
    let uncut = Ends::of(&design.clean.crop, &placement) == Ends::default();
    if uncut && keep.cut.is_none() {
        keep.whole = limb.skin.bounds().map(|(low, high)| (placement, low.z, high.z));
    } else if keep.whole.is_none() {
        // Opened with its ends cut: the scan itself says how far it reached.
        let scan = session.document().map(|d| &d.scan().scan.mesh.points).into_iter().flatten();
        let heights = scan.map(|p| placement.limb_from_scan(&p.cast()).z as f32);
        let (low, high) = heights.fold((f32::INFINITY, f32::NEG_INFINITY), |(l, h), z| (l.min(z), h.max(z)));
        keep.whole = (low < high).then_some((placement, low, high));
    }
    keep.whole.map(|(_, low, high)| (low, high))
}

/// Two sliders that cut the ends off.
fn ends(ui: &mut Ui, desk: &mut Desk<'_>) {
    section_with_sign(ui, Icon::Crop, "Cut the ends off");
    let session = &mut desk.bench.session;
    let keep = &mut desk.view.scan;
    let Some((low, high)) = whole(keep, session) else { return };
    let Some(made) = session.design().map(|design| Ends::of(&design.clean.crop, &design.placement)) else { return };
    let shown = keep.cut.unwrap_or(made);
    let most = most_off(low, high);
    let [mut below, mut above] = off(shown, low, high);
    let one = Setting::new("Upper end", "mm", 0.0..=most).step(1.0).show(ui, &mut above);
    let two = Setting::new("Lower end", "mm", 0.0..=most).step(1.0).show(ui, &mut below);
    if one.changed || two.changed {
        keep.moves = [two.changed || keep.moves[0], one.changed || keep.moves[1]];
        keep.cut = Some(without(low, high, below, above));
    }
    if (one.let_go || two.let_go)
        && let Some(cut) = keep.cut.take()
    {
        keep.moves = [false; 2];
        cut_off(session, cut);
    }
}

fn most_off(low: f32, high: f32) -> f32 {
    0.5 * (high - low - LEAST_LEFT_MM).max(0.0)
}

/// How much is off the lower and the upper end, mm.
fn off(ends: Ends, low: f32, high: f32) -> [f32; 2] {
    let most = most_off(low, high);
    [ends.low_mm.map_or(0.0, |z| z - low).clamp(0.0, most), ends.high_mm.map_or(0.0, |z| high - z).clamp(0.0, most)]
}

fn without(low: f32, high: f32, below: f32, above: f32) -> Ends {
    let end = |cut: f32, z: f32| (cut > 0.0).then_some(z);
    Ends { low_mm: end(below, low + below), high_mm: end(above, high - above) }
}

fn cut_off(session: &mut Session, cut: Ends) {
    session.edit("cut the ends off", |design| {
        let placement = design.placement;
        cut.put(&mut design.clean.crop, &placement);
    });
}

/// Cuts more off an end, or less.
fn cut_by(bench: &mut Bench, view: &mut View, lower_mm: f32, upper_mm: f32) {
    let session = &mut bench.session;
    let Some((low, high)) = whole(&mut view.scan, session) else { return };
    let Some(made) = session.design().map(|design| Ends::of(&design.clean.crop, &design.placement)) else { return };
    let [below, above] = off(made, low, high);
    let most = most_off(low, high);
    let new = |now: f32, by: f32| (now + by).round().clamp(0.0, most);
    let below = if lower_mm == 0.0 { below } else { new(below, lower_mm) };
    let above = if upper_mm == 0.0 { above } else { new(above, upper_mm) };
    cut_off(session, without(low, high, below, above));
}

/// Does what a key or button of this step asks for.
pub(crate) fn perform(action: Action, bench: &mut Bench, view: &mut View) {
    match action {
        Action::CutUpper => cut_by(bench, view, 0.0, 5.0),
        Action::KeepUpper => cut_by(bench, view, 0.0, -5.0),
        Action::CutLower => cut_by(bench, view, 5.0, 0.0),
        Action::KeepLower => cut_by(bench, view, -5.0, 0.0),
        Action::Watch => bench.choose(Purpose::Watch),
        Action::StopWatching => bench.session.watch(None),
        Action::OpenArrived => {
            if let Some(path) = bench.files.arrived.take() {
                bench.go_on_to(Next::Open(path));
            }
        }
        Action::PassArrived => bench.files.arrived = None,
        Action::NextUnit => {
            let Some(seen) = bench.session.derived().limb.value().map(|limb| limb.report.unit.unit) else { return };
            bench.session.edit("unit of the scan", |design| {
                // The likeliest first, while none is chosen.
                design.clean.unit = design.clean.unit.map_or(Some(seen), |now| after(&Unit::ALL, &now));
            });
        }
        Action::NextSite => bench.session.edit("body site", |design| {
            about::set_site(design, after(&BodySite::ALL, &design.site).unwrap_or(design.site));
        }),
        Action::NextSide => bench.session.edit("side of the body", |design| {
            let sides = [Side::Left, Side::Right, Side::Unknown];
            about::set_side(design, after(&sides, &design.side).unwrap_or(design.side));
        }),
        other => {
            if let Some((_, _, is_on, set)) = CLEANING.iter().find(|(action, ..)| *action == other) {
                bench.session.edit("cleaning", |design| {
                    let on = !is_on(&design.clean);
                    set(&mut design.clean, on);
                    if other == Action::Mirror {
                        let mirrored = match design.side {
                            Side::Left => Side::Right,
                            Side::Right => Side::Left,
                            Side::Unknown => Side::Unknown,
                        };
                        about::set_side(design, mirrored);
                    }
                });
            }
        }
    }
}

/// The one that comes after `now`, the first after the last.
pub(crate) fn after<T: PartialEq + Copy>(all: &[T], now: &T) -> Option<T> {
    let at = all.iter().position(|one| one == now).map_or(0, |i| i + 1);
    all.get(at % all.len().max(1)).copied()
}

/// A part of cleaning: what switches it, its name, whether it is on, and what turns it on or off.
type Part = (Action, &'static str, fn(&CleanSettings) -> bool, fn(&mut CleanSettings, bool));

const CLEANING: [Part; 8] = [
    (Action::Mend, "Mend triangles", |c| c.mend, |c, on| c.mend = on),
    (Action::Table, "Take the table away", |c| c.remove_table_plane, |c, on| c.remove_table_plane = on),
    (Action::Pieces, "Drop loose pieces", |c| c.drop_small_pieces, |c, on| c.drop_small_pieces = on),
    (
        Action::Noise,
        "Take scanner noise off",
        |c| c.smooth > 0.0,
        |c, on| c.smooth = if on { CleanSettings::default().smooth } else { 0.0 },
    ),
    (
        Action::Holes,
        "Fill holes",
        |c| c.fill_holes_mm > 0.0,
        |c, on| c.fill_holes_mm = if on { CleanSettings::default().fill_holes_mm } else { 0.0 },
    ),
    (
        Action::LongTriangles,
        "Split long triangles",
        |c| c.longest_edge_mm.is_some(),
        |c, on| c.longest_edge_mm = CleanSettings::default().longest_edge_mm.filter(|_| on),
    ),
    (Action::Upright, "Stand the limb upright", |c| c.upright, |c, on| c.upright = on),
    (Action::Mirror, "Mirror: left becomes right", |c| c.mirror, |c, on| c.mirror = on),
];

fn cleaning(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(design) = desk.bench.session.design() else { return };
    section(ui, "Cleaning");
    for (action, text, is_on, _) in CLEANING {
        let mut on = is_on(&design.clean);
        if switch(ui, &mut on, text).changed() {
            desk.asked.0.push(action);
        }
    }
}
