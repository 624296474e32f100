//! The shell step: wall, rim, ribs, vents, fittings, number.

mod chosen;
mod items;
mod problem;

use std::sync::Arc;

use bevy_egui::egui::Ui;
use engine::{PRESETS, Warning};
use locker::DesignFile;
use shell::limits::{self, Limit};
use shell::{RibLayout, Ribs, VentKind, Vents};

use crate::actions::Action;
use crate::commands::shell as commands;
use crate::desk::Desk;
use crate::look::icons::Icon;
use crate::look::{self, Setting};
use problem::{Home, home};

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    look::title(ui, "Shell");
    let Some(document) = desk.bench.session.document() else {
        look::remark(ui, "Open a scan first.");
        return;
    };
    let design = Arc::clone(document.history().now());
    let derived = desk.bench.session.derived();
    let told = derived.problem().map(|problem| (home(problem, &design.shell), problem.without_place()));
    let no_zone = derived.zone.value().is_none();
    starts(ui, desk, &design);
    let top = told.as_ref().filter(|(home, _)| *home == Home::Top).map(|(_, words)| words.as_str());
    let otherwise = if no_zone { "Paint the zone first; the shell follows as soon as there is one." } else { STARTS };
    look::noted(ui, LINES, top, otherwise);
    let found = engine::warnings(&design, &desk.bench.session.materials);
    let no_liner =
        found.iter().find(|w| matches!(w, Warning::NoLiner { .. })).map(|w| session::capitalised(&w.to_string()));
    let mut panel = Panel { desk, design: &design, told: told.as_ref(), no_liner };
    wall(ui, &mut panel);
    rim(ui, &mut panel);
    ribs(ui, &mut panel);
    vents(ui, &mut panel);
    items::show(ui, &mut panel);
    // The settings of one thing come and go, so nothing stands below them.
    chosen::show(ui, &mut panel);
}

/// The panel with the design as it was at the start of the frame.
struct Panel<'a, 'b> {
    desk: &'a mut Desk<'b>,
    design: &'a DesignFile,
    told: Option<&'a (Home, String)>,
    /// The warning that the gap leaves no room for a liner.
    no_liner: Option<String>,
}

impl Panel<'_, '_> {
    /// What is wrong with a setting whose field satisfies `is`.
    fn wrong(&self, is: impl Fn(&str) -> bool) -> Option<&str> {
        let told = self.told.filter(|(home, _)| matches!(home, Home::Setting(of) if is(of)));
        let no_liner = self.no_liner.as_deref().filter(|_| is(limits::GAP.field));
        told.map(|(_, words)| words.as_str()).or(no_liner)
    }

    /// What is wrong in a part of the panel, or what that part is for; its height is always the same.
    fn note(&self, ui: &mut Ui, is: impl Fn(&str) -> bool, otherwise: &str) {
        look::noted(ui, LINES, self.wrong(is), otherwise);
    }

    /// A slider for a number within its limit, and within `ends` where another setting narrows it.
    fn number(
        &mut self,
        ui: &mut Ui,
        name: &str,
        limit: &Limit,
        ends: [f32; 2],
        value: f32,
        set: impl FnOnce(&mut shell::Design, f32),
    ) {
        let [least, most] = [limit.least.max(ends[0]), limit.most.min(ends[1])];
        let mut new = value;
        let wrong = self.wrong(|field| field == limit.field).is_some();
        let moved = setting(name, limit, least..=most.max(least)).wrong(wrong).show(ui, &mut new);
        let label = name.to_lowercase();
        if moved.changed {
            self.desk.bench.session.edit_live(&label, |design| set(&mut design.shell, new));
        }
        if moved.let_go {
            self.desk.bench.session.settle();
        }
    }

    fn edit(&mut self, label: &str, change: impl FnOnce(&mut shell::Design)) {
        self.desk.bench.session.edit(label, |design| change(&mut design.shell));
    }
}

/// A slider in the unit of its limit, with a tooltip where the name alone does not say what it sets.
fn setting<'a>(name: &'a str, limit: &Limit, range: std::ops::RangeInclusive<f32>) -> Setting<'a> {
    let setting = Setting::new(name, limit.unit, range);
    match limit.field {
        "gap_mm" => setting.tip("Room between skin and shell: the thickness of the foam liner and a little ease."),
        "rim.round_mm" => setting.tip("Radius at which the edge is rounded, so that it does not cut in."),
        "rim.flare_mm" => setting.tip("How far the edge bends away from the skin (the flare)."),
        "rim.flare_width_mm" => setting.tip("How far in from the edge it begins to bend away from the skin."),
        "ribs.spacing_mm" => setting.tip("From the middle of one rib to the middle of the next."),
        "rim.bead_mm" => {
            setting.tip("A round bar all along the edge: it stiffens the guard and is soft to the touch. 0 for none.")
        }
        "vents.grade_percent" => {
            setting.step(1.0).tip("How much smaller the vents near the rim are than the innermost.")
        }
        "vents.open_percent" => setting
            .step(1.0)
            .tip("The plastic between the vents gets wider until they open no more of the zone than this."),
        "vents.ligament_mm" => setting.tip("The least width of plastic that stays between two vents."),
        _ => setting,
    }
}

/// Lines kept for what is wrong.
const LINES: usize = 3;

const FREE: [f32; 2] = [f32::NEG_INFINITY, f32::INFINITY];

/// What starting points are, and what they change.
const STARTS: &str = "Common practice, not rules. The first three set the filament too, never colour or straps.";

/// Starting points by purpose and by body site.
fn starts(ui: &mut Ui, desk: &mut Desk<'_>, design: &DesignFile) {
    look::section(ui, "Start from");
    let now = commands::start_in_use(design);
    ui.horizontal_wrapped(|ui| {
        let usual = (Action::UsualForSite, format!("Usual for the {}", design.site.name()));
        let presets = PRESETS.iter().map(|start| (commands::start_action(start.purpose), start.name.to_owned()));
        for (action, name) in presets.chain([usual]) {
            let in_use = now == Some(action);
            if look::tool_without_sign(ui, &name, in_use).on_hover_text(action.keys()).clicked() {
                desk.asked.0.push(action);
            }
        }
    });
}

fn wall(ui: &mut Ui, panel: &mut Panel<'_, '_>) {
    look::section(ui, "Wall");
    let shell = &panel.design.shell;
    panel.number(ui, "Wall", &limits::THICKNESS, FREE, shell.thickness_mm, |shell, mm| {
        shell.thickness_mm = mm;
        shell.rim.round_mm = shell.rim.round_mm.min(limits::most_round_mm(shell));
    });
    panel.number(ui, "Gap to the skin", &limits::GAP, FREE, shell.gap_mm, |shell, mm| shell.gap_mm = mm);
    let wall = [limits::THICKNESS.field, limits::GAP.field];
    panel.note(ui, |field| wall.contains(&field), "The gap takes the foam liner and a little ease.");
}

fn rim(ui: &mut Ui, panel: &mut Panel<'_, '_>) {
    look::section_with_sign(ui, Icon::Rim, "Rim");
    let shell = &panel.design.shell;
    let full = [0.0, limits::most_round_mm(shell)];
    panel.number(ui, "Rounding", &limits::ROUND, full, shell.rim.round_mm, |shell, mm| shell.rim.round_mm = mm);
    panel.number(ui, "Lift off the skin", &limits::FLARE, FREE, shell.rim.flare_mm, |shell, mm| {
        shell.rim.flare_mm = mm;
        shell.rim.flare_width_mm = shell.rim.flare_width_mm.max(limits::least_flare_width_mm(mm));
    });
    let ends =
        [limits::least_flare_width_mm(shell.rim.flare_mm).max(limits::FLARE_WIDTH.least), limits::FLARE_WIDTH.most];
    panel.number(ui, "Width of the lifted edge", &limits::FLARE_WIDTH, ends, shell.rim.flare_width_mm, |shell, mm| {
        shell.rim.flare_width_mm = mm;
    });
    panel.number(ui, "Bead along the edge", &limits::BEAD, FREE, shell.rim.bead_mm, |shell, mm| {
        shell.rim.bead_mm = mm;
    });
    panel.note(ui, |field| field.starts_with("rim."), "A round edge that lifts off the skin does not cut in.");
}

fn ribs(ui: &mut Ui, panel: &mut Panel<'_, '_>) {
    look::section_with_sign(ui, Icon::Rib, "Ribs");
    let now = panel.design.shell.ribs;
    let mut layout = now.map(|ribs| ribs.layout);
    let layouts = [
        (None, "None"),
        (Some(RibLayout::Along), "Along"),
        (Some(RibLayout::Around), "Around"),
        (Some(RibLayout::Crossed), "Crossed"),
        (Some(RibLayout::Diamond), "Diamonds"),
        (Some(RibLayout::Branching), "Branching"),
    ];
    if look::choice(ui, &mut layout, &layouts) {
        panel.edit("ribs", |shell| {
            shell.ribs = layout.map(|layout| Ribs { layout, ..shell.ribs.unwrap_or(commands::USUAL_RIBS) })
        });
    }
    // The sliders are there without ribs too, so that nothing below them moves.
    ui.add_enabled_ui(now.is_some(), |ui| rib_sizes(ui, panel, now.unwrap_or(commands::USUAL_RIBS)));
    panel.note(ui, |field| field.starts_with("ribs."), "Ribs stiffen the wall at little weight.");
}

fn rib_sizes(ui: &mut Ui, panel: &mut Panel<'_, '_>, ribs: Ribs) {
    let set = |change: fn(&mut Ribs, f32)| {
        move |shell: &mut shell::Design, mm: f32| {
            if let Some(ribs) = &mut shell.ribs {
                change(ribs, mm);
            }
        }
    };
    panel.number(ui, "Rib height", &limits::RIB_HEIGHT, FREE, ribs.height_mm, set(|ribs, mm| ribs.height_mm = mm));
    panel.number(
        ui,
        "Rib width",
        &limits::RIB_WIDTH,
        FREE,
        ribs.width_mm,
        set(|ribs, mm| {
            ribs.width_mm = mm;
            ribs.spacing_mm = ribs.spacing_mm.max(limits::least_rib_spacing_mm(ribs));
        }),
    );
    let ends = [limits::least_rib_spacing_mm(&ribs), 80.0_f32.max(ribs.spacing_mm)];
    panel.number(ui, "Rib spacing", &limits::RIB_SPACING, ends, ribs.spacing_mm, set(|ribs, mm| ribs.spacing_mm = mm));
}

fn vents(ui: &mut Ui, panel: &mut Panel<'_, '_>) {
    look::section_with_sign(ui, Icon::Vent, "Vents");
    let now = panel.design.shell.vents;
    let mut kind = now.map(|vents| vents.kind);
    let kinds = [
        (None, "None", "A closed wall."),
        (Some(VentKind::Round), "Round", "Round holes in even rows."),
        (Some(VentKind::Slot), "Slots", "Long holes along the limb, in even rows."),
        (Some(VentKind::Honeycomb), "Honeycomb", "Holes with six sides, in even rows."),
        (Some(VentKind::Cells), "Irregular", "Rounded cells of uneven shape and about even size."),
        (Some(VentKind::Lozenge), "Lozenges", "Upright diamonds in even columns."),
        (Some(VentKind::Triangle), "Triangles", "One up, one down: straight struts between them, the stiffest."),
    ];
    if look::choice_with_tips(ui, &mut kind, &kinds) {
        panel.edit("vents", |shell| {
            shell.vents = kind.map(|kind| Vents { kind, ..shell.vents.unwrap_or(Vents::USUAL) })
        });
    }
    ui.add_enabled_ui(now.is_some(), |ui| vent_sizes(ui, panel, now.unwrap_or(Vents::USUAL)));
    panel.note(ui, |field| field.starts_with("vents."), "Vents let heat and sweat out.");
}

fn vent_sizes(ui: &mut Ui, panel: &mut Panel<'_, '_>, vents: Vents) {
    let set = |change: fn(&mut Vents, f32)| {
        move |shell: &mut shell::Design, mm: f32| {
            if let Some(vents) = &mut shell.vents {
                change(vents, mm);
            }
        }
    };
    panel.number(ui, "Vent width", &limits::VENT_SIZE, FREE, vents.size_mm, set(|v, mm| v.size_mm = mm));
    panel.number(
        ui,
        "Plastic between vents",
        &limits::VENT_LIGAMENT,
        FREE,
        vents.ligament_mm,
        set(|v, mm| v.ligament_mm = mm),
    );
    panel.number(
        ui,
        "Vents to the rim",
        &limits::VENT_RIM_DISTANCE,
        FREE,
        vents.rim_distance_mm,
        set(|v, mm| v.rim_distance_mm = mm),
    );
    panel.number(
        ui,
        "Smaller towards the rim",
        &limits::VENT_GRADE,
        FREE,
        vents.grade_percent,
        set(|v, percent| v.grade_percent = percent),
    );
    // At its upper end they lie as close as the plastic between them allows.
    let open = vents.open_percent.unwrap_or(limits::VENT_OPEN.most);
    panel.number(
        ui,
        "Open share, at most",
        &limits::VENT_OPEN,
        FREE,
        open,
        set(|v, percent| v.open_percent = (percent < limits::VENT_OPEN.most).then_some(percent)),
    );
    let irregular = vents.kind == VentKind::Cells;
    let button = ui.add_enabled_ui(irregular, |ui| look::button(ui, Some(Icon::Shuffle), "Another arrangement")).inner;
    if button.on_hover_text(Action::Rearrange.keys()).clicked() {
        panel.desk.asked.0.push(Action::Rearrange);
    }
}
