//! The fit step: the gap in colours and figures, a cut across the limb.

mod cut_drawing;

use bevy_egui::egui::Ui;
use fit::Clearance;

use crate::actions::{Action, Asked};
use crate::desk::Desk;
use crate::look::icons::Icon;
use crate::look::{self, Setting};
use crate::state::fit::{FitView, scale_mm};

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    look::title(ui, "Fit");
    let session = &desk.bench.session;
    let design = session.design();
    let Some((design, shell)) = design.and_then(|design| Some((design, session.derived().best_shell(design)?))) else {
        desk.view.fit.on(None);
        look::remark(ui, "There is no shell to look at yet. Paint the zone and shape the shell first.");
        return;
    };
    if desk.bench.changed.shell || desk.view.fit.range_mm.is_none() {
        desk.view.fit.on(shell.bounds.map(|(low, high)| (low.z + 0.5, high.z - 0.5)));
    }
    seen(ui, desk.asked, &mut desk.view.fit);
    cut(ui, &mut desk.view.fit);
    look::section(ui, "Gap to the skin");
    look::legend(ui, scale_mm(design.shell.gap_mm), "mm");
    match session.derived().clearance_now(design) {
        Some(clearance) => {
            let serial = session.derived().clearance.serial();
            figures(ui, &mut desk.view.fit, serial, clearance, design.shell.gap_mm);
        }
        None => match session.derived().clearance_given_up(design) {
            Some(why) => look::problem(ui, &session::capitalised(why)),
            None => look::remark(ui, "Being measured…"),
        },
    }
    let cuts = &session.derived().cuts;
    match (cuts.problem(), cuts.value()) {
        (Some(wrong), _) => look::problem(ui, &session::capitalised(&wrong.sentence)),
        (None, Some(cuts)) => cut_drawing::show(ui, cuts),
        (None, None) => {}
    }
    look::remark(ui, "The scan is a limb at rest: skin gives way and swells. Check the fit on the athlete.");
}

/// How limb and shell are shown.
fn seen(ui: &mut Ui, asked: &mut Asked, fit: &mut FitView) {
    look::section(ui, "Shown");
    let mut percent = 100.0 * fit.limb;
    Setting::new("Limb", "%", 0.0..=100.0).step(5.0).show(ui, &mut percent);
    fit.limb = percent / 100.0;
    look::switch(ui, &mut fit.heat, "Gap in colours, inside the shell").on_hover_text(Action::Heat.keys());
    if look::wide_button(ui, Some(Icon::Turn), "Look at the inside").on_hover_text(Action::Inside.keys()).clicked() {
        asked.0.push(Action::Inside);
    }
}

/// The measured gap in figures.
fn figures(ui: &mut Ui, fit: &mut FitView, serial: u64, clearance: &Clearance, gap_mm: f32) {
    let Some(figures) = clearance.figures else { return };
    look::figure(ui, "Designed gap", &format!("{gap_mm:.1} mm"));
    look::figure(ui, "Least", &format!("{:.1} mm", figures.least_mm));
    look::figure(ui, "Median", &format!("{:.1} mm", figures.middle_mm));
    look::figure(ui, "Nearly all (95 %) is under", &format!("{:.1} mm", figures.most_95_mm));
    let near_mm = 0.5 * gap_mm;
    let share = 100.0 * fit.share_nearer(serial, clearance, near_mm);
    look::figure(ui, &format!("Nearer than {near_mm:.1} mm"), &format!("{share:.1} %"));
    if figures.least_mm < 0.0 {
        look::problem(ui, "The shell reaches into the skin. Raise the gap, or grow the relief there.");
    }
}

/// Where limb and shell are cut.
fn cut(ui: &mut Ui, fit: &mut FitView) {
    look::section_with_sign(ui, Icon::Cut, "Cut across");
    look::switch(ui, &mut fit.cut, "Cut limb and shell open").on_hover_text(Action::CutOpen.keys());
    if let Some((low, high)) = fit.range_mm {
        let mut above = fit.plane_mm - low;
        let height = Setting::new("Above the shell’s lower edge", "mm", 0.0..=high - low).step(0.5);
        let height = height.tip("How high the cut lies, measured up from the lowest point of the shell.");
        if height.show(ui, &mut above).changed {
            // Whoever moves the plane wants to see it.
            (fit.plane_mm, fit.cut) = ((low + above).clamp(low, high), true);
        }
    }
}
