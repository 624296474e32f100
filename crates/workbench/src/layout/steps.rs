//! The steps along the top, drawn as a path: done, here, to come.

use bevy_egui::egui::{
    Align2, Color32, CursorIcon, FontFamily, FontId, Rect, Sense, Stroke, TextStyle, Ui, Vec2, WidgetInfo, WidgetType,
    pos2, vec2,
};

use crate::look::icons::Icon;
use crate::look::palette;
use crate::state::Step;

/// Where on the path a step is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// What it makes is there.
    Done,
    /// The current step.
    Here,
    /// Still to come.
    ToCome,
}

/// Where a step is on the path, given the current step.
///
/// `made` says whether the limb, the zone and the shell are there.
pub fn place(step: Step, here: Step, made: [bool; 3]) -> Place {
    let [limb, zone, shell] = made;
    let done = match step {
        Step::Scan => limb,
        Step::Zone => zone,
        Step::Shell | Step::Fit | Step::Material | Step::Print | Step::Show => shell && step < here,
    };
    if step == here {
        Place::Here
    } else if done {
        Place::Done
    } else {
        Place::ToCome
    }
}

/// Radius of a step's circle on the path.
const STONE: f32 = 13.0;
/// Space between circle and name.
const BEFORE: f32 = 7.0;

/// Draws the path in the given width and returns the step that was pressed.
pub fn show(ui: &mut Ui, here: Step, made: [bool; 3], width: f32) -> Option<Step> {
    let colours = palette(ui.ctx());
    let size = TextStyle::Body.resolve(ui.style()).size + 1.0;
    let font = |strong: bool| {
        FontId::new(size, if strong { FontFamily::Name("strong".into()) } else { FontFamily::Proportional })
    };
    let galleys: Vec<_> = Step::ALL
        .into_iter()
        .map(|step| ui.painter().layout_no_wrap(step.name().to_owned(), font(step == here), Color32::PLACEHOLDER))
        .collect();
    let full: f32 = galleys.iter().map(|g| 2.0 * STONE + BEFORE + g.size().x).sum();
    let gaps = (Step::ALL.len() - 1) as f32;
    // Where there is no room for all names, only the current step's is written.
    let named = full + gaps * 22.0 <= width;
    let taken =
        if named { full } else { 14.0 * STONE + BEFORE + galleys.iter().map(|g| g.size().x).fold(0.0, f32::max) };
    let gap = ((width - taken) / gaps).clamp(6.0, 46.0);
    let (field, _) = ui.allocate_exact_size(vec2((taken + gap * gaps).min(width), 40.0), Sense::hover());
    let (mut x, y) = (field.left(), field.center().y);
    let mut pressed = None;
    for (i, (step, galley)) in Step::ALL.into_iter().zip(galleys).enumerate() {
        let at = place(step, here, made);
        let shows_name = named || at == Place::Here;
        let wide = 2.0 * STONE + if shows_name { BEFORE + galley.size().x } else { 0.0 };
        let cell = Rect::from_min_size(pos2(x, field.top()), vec2(wide, field.height()));
        let response = ui.interact(cell.expand2(vec2(3.0, 0.0)), ui.id().with(("step", i)), Sense::click());
        response.widget_info(|| WidgetInfo::selected(WidgetType::RadioButton, true, step == here, step.name()));
        let near = response.hovered() || response.has_focus();
        let (fill, line, ink, name) = match at {
            Place::Here => (colours.accent, colours.accent, colours.on_accent, colours.accent),
            Place::Done => (colours.paper, colours.accent, colours.accent, colours.ink),
            Place::ToCome => (colours.paper, colours.faint_ink, colours.faint_ink, colours.faint_ink),
        };
        let name = if near { colours.accent } else { name };
        let middle = pos2(x + STONE, y);
        ui.painter().circle(middle, STONE - 1.0, fill, Stroke::new(if near { 2.4 } else { 1.6 }, line));
        if at == Place::Done {
            Icon::Done.paint(ui.painter(), Rect::from_center_size(middle, Vec2::splat(16.0)), ink);
        } else {
            ui.painter().text(middle, Align2::CENTER_CENTER, (i + 1).to_string(), font(true), ink);
        }
        if shows_name {
            ui.painter().galley_with_override_text_color(
                pos2(x + 2.0 * STONE + BEFORE, y - 0.5 * galley.size().y),
                galley,
                name,
            );
        }
        x = cell.right();
        if i + 1 < Step::ALL.len() {
            let line = if at == Place::Done { colours.accent } else { colours.line };
            let inset = if gap > 16.0 { 6.0 } else { 1.0 };
            ui.painter().hline((x + inset)..=(x + gap - inset), y, Stroke::new(1.6, line));
            x += gap;
        }
        if response.hovered() {
            ui.ctx().set_cursor_icon(CursorIcon::PointingHand);
        }
        if response.clicked() {
            pressed = Some(step);
        }
    }
    pressed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_path_shows_what_is_done_and_where_one_is() {
        let at = |here, made| Step::ALL.map(|step| place(step, here, made));
        use Place::{Done, Here, ToCome};
        assert_eq!(at(Step::Scan, [false; 3]), [Here, ToCome, ToCome, ToCome, ToCome, ToCome, ToCome]);
        assert_eq!(at(Step::Zone, [true, false, false]), [Done, Here, ToCome, ToCome, ToCome, ToCome, ToCome]);
        assert_eq!(at(Step::Material, [true; 3]), [Done, Done, Done, Done, Here, ToCome, ToCome]);
        assert_eq!(at(Step::Scan, [true; 3]), [Here, Done, ToCome, ToCome, ToCome, ToCome, ToCome]);
    }
}
