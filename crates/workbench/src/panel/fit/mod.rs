//! The fit step: the gap in colours and figures, a cut across the limb.

mod cut_drawing;

use bevy_egui::egui::{self, Align2, CornerRadius, Rect, Sense, Stroke, TextStyle, Ui, pos2, vec2};

use fit::Clearance;

use crate::actions::{Action, Asked};
use crate::desk::Desk;
use crate::look::icons::Icon;
use crate::look::{self, Setting, heat};
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
    legend(ui, scale_mm(design.shell.gap_mm));
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

/// The colours with their figures.
fn legend(ui: &mut Ui, scale_mm: f32) {
    let colours = look::palette(ui.ctx());
    let font = TextStyle::Small.resolve(ui.style());
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 44.0), Sense::hover());
    let bar = Rect::from_min_max(rect.min + vec2(8.0, 2.0), pos2(rect.right() - 8.0, rect.top() + 18.0));
    let steps = 64;
    for i in 0..steps {
        let at = |i: usize| bar.left() + bar.width() * i as f32 / steps as f32;
        let part = Rect::from_min_max(pos2(at(i), bar.top()), pos2(at(i + 1) + 0.5, bar.bottom()));
        ui.painter().rect_filled(part, CornerRadius::ZERO, heat::colour((i as f32 + 0.5) / steps as f32));
    }
    ui.painter().rect_stroke(bar, CornerRadius::ZERO, Stroke::new(1.0, colours.line), egui::StrokeKind::Outside);
    for i in 0..=4 {
        let share = i as f32 / 4.0;
        let x = bar.left() + share * bar.width();
        ui.painter().vline(x, bar.bottom()..=bar.bottom() + 4.0, Stroke::new(1.0, colours.ink));
        let (anchor, end) = match i {
            0 => (Align2::LEFT_TOP, ""),
            4 => (Align2::RIGHT_TOP, " mm +"),
            _ => (Align2::CENTER_TOP, ""),
        };
        let x = if i == 0 {
            rect.left() + 4.0
        } else if i == 4 {
            rect.right()
        } else {
            x
        };
        let value = share * scale_mm;
        let text = if value.fract().abs() < 0.05 { format!("{value:.0}{end}") } else { format!("{value:.1}{end}") };
        ui.painter().text(pos2(x, bar.bottom() + 5.0), anchor, text, font.clone(), colours.ink);
    }
}
