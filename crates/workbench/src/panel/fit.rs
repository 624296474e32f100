//! The fit step: the gap in colours and figures, a cut across the limb.

use bevy_egui::egui::{self, Align2, CornerRadius, Rect, Sense, Stroke, TextStyle, Ui, pos2, vec2};

use super::{Desk, cut_drawing};
use crate::actions::Action;
use crate::look::icons::Icon;
use crate::look::{self, Setting, heat};
use crate::looking::scale_mm;
use crate::view::View;

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    look::title(ui, "Fit");
    let session = &desk.bench.session;
    let design = session.design();
    let Some((design, shell)) = design.and_then(|design| Some((design, session.derived().best_shell(design)?))) else {
        desk.view.looking.on(None);
        look::remark(ui, "There is no shell to look at yet. Paint the zone and shape the shell first.");
        return;
    };
    if desk.bench.changed.shell || desk.view.looking.range_mm.is_none() {
        desk.view.looking.on(shell.mesh.bounds().map(|(low, high)| (low.z + 0.5, high.z - 0.5)));
    }
    let looking = &mut desk.view.looking;
    look::section(ui, "What is seen");
    let mut percent = 100.0 * looking.limb;
    Setting::new("Limb", "%", 0.0..=100.0).step(5.0).show(ui, &mut percent);
    looking.limb = percent / 100.0;
    look::switch(ui, &mut looking.heat, "Gap in colours, inside the shell");
    if look::wide_button(ui, Some(Icon::Turn), "Look at the inside").clicked() {
        desk.asked.0.push(Action::Inside);
    }
    look::section(ui, "Gap to the skin");
    let scale = scale_mm(design.shell.gap_mm);
    legend(ui, scale);
    match session.derived().clearance_now(design) {
        Some(clearance) => {
            if let Some(figures) = clearance.figures {
                look::figure(ui, "Designed gap", &format!("{:.1} mm", design.shell.gap_mm));
                look::figure(ui, "Least", &format!("{:.1} mm", figures.least_mm));
                look::figure(ui, "Half of it is under", &format!("{:.1} mm", figures.middle_mm));
                look::figure(ui, "Nearly all (95 %) is under", &format!("{:.1} mm", figures.most_95_mm));
                let near = 0.5 * design.shell.gap_mm;
                let share = 100.0 * clearance.share_below(near);
                look::figure(ui, &format!("Nearer than {near:.1} mm"), &format!("{share:.1} %"));
                if figures.least_mm < 0.0 {
                    look::problem(ui, "The shell reaches into the skin. Raise the gap, or grow the relief there.");
                }
            }
        }
        None => look::remark(ui, "Being measured…"),
    }
    look::section_with_sign(ui, Icon::Cut, "Cut across");
    look::switch(ui, &mut looking.cut, "Cut limb and shell open");
    if let Some((low, high)) = looking.range_mm {
        let mut above = looking.plane_mm - low;
        Setting::new("Up from the lower end", "mm", 0.0..=high - low).step(0.5).show(ui, &mut above);
        looking.plane_mm = (low + above).clamp(low, high);
    }
    if let Some(cuts) = session.derived().cuts.value() {
        cut_drawing::show(ui, cuts);
    }
    look::remark(ui, "The scan is a limb at rest: skin gives way and swells. Check the fit on the athlete.");
}

/// Does what a key or button of this step asks for.
pub(crate) fn perform(action: Action, view: &mut View) {
    let looking = &mut view.looking;
    match action {
        Action::SeeThrough => {
            // From whole over half to nothing, and back.
            looking.limb = [0.5, 0.2, 0.0].into_iter().find(|share| *share < looking.limb - 0.01).unwrap_or(1.0);
        }
        Action::Heat => looking.heat = !looking.heat,
        Action::Inside => {
            looking.turn_inside = true;
            looking.heat = true;
            // The plane would hide the upper part of it.
            looking.cut = false;
            looking.limb = looking.limb.min(0.2);
        }
        Action::CutOpen => looking.cut = !looking.cut,
        Action::CutHigher => looking.cut_by(5.0),
        Action::CutDeeper => looking.cut_by(-5.0),
        _ => {}
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
