//! Controls of the workbench's own: headings, buttons, choices, switches.

use bevy_egui::egui::{
    self, Align2, CornerRadius, FontFamily, FontId, Rect, Response, Sense, Stroke, StrokeKind, TextStyle, Ui, Vec2,
    WidgetInfo, WidgetType, pos2, vec2,
};

use super::icons::Icon;
use super::palette;

/// Least height of a button.
const HEIGHT: f32 = 34.0;
/// Corner radius of a button.
const ROUND: u8 = 8;
/// Side of a sign beside a text.
const SIGN: f32 = 19.0;

fn strong(size: f32) -> FontId {
    FontId::new(size, FontFamily::Name("strong".into()))
}

/// The name of the step.
pub fn title(ui: &mut Ui, text: &str) {
    ui.heading(text);
    ui.add_space(2.0);
}

/// Begins a part of a panel: its name, with a thin rule to the edge.
pub fn section(ui: &mut Ui, text: &str) {
    headed(ui, None, text);
}

/// As [`section`], with a sign before the name.
pub fn section_with_sign(ui: &mut Ui, icon: Icon, text: &str) {
    headed(ui, Some(icon), text);
}

fn headed(ui: &mut Ui, icon: Option<Icon>, text: &str) {
    ui.add_space(12.0);
    let colours = palette(ui.ctx());
    let font = strong(TextStyle::Body.resolve(ui.style()).size);
    let galley = ui.painter().layout_no_wrap(text.to_owned(), font, colours.ink);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), galley.size().y + 4.0), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, text));
    let mut left = rect.left();
    if let Some(icon) = icon {
        let field = Rect::from_min_size(pos2(left, rect.center().y - 0.5 * SIGN), Vec2::splat(SIGN));
        icon.paint(ui.painter(), field, colours.faint_ink);
        left += SIGN + 7.0;
    }
    let from = left + galley.size().x + 10.0;
    ui.painter().hline(from..=rect.right(), rect.center().y + 1.0, Stroke::new(1.0, colours.line));
    ui.painter().galley(pos2(left, rect.center().y - 0.5 * galley.size().y), galley, colours.ink);
}

/// Less important text, wrapped.
pub fn remark(ui: &mut Ui, text: &str) {
    let colours = palette(ui.ctx());
    ui.label(egui::RichText::new(text).color(colours.faint_ink).size(13.5));
}

/// What is wrong with the setting above, in words.
pub fn problem(ui: &mut Ui, text: &str) {
    let colours = palette(ui.ctx());
    let size = TextStyle::Body.resolve(ui.style()).size - 1.0;
    let width = ui.available_width() - 28.0;
    let galley = ui.painter().layout(text.to_owned(), FontId::proportional(size), colours.bad, width);
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), galley.size().y.max(20.0) + 4.0), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, text));
    let sign = Rect::from_min_size(rect.min + vec2(0.0, 1.0), Vec2::splat(20.0));
    Icon::Wrong.paint(ui.painter(), sign, colours.bad);
    ui.painter().galley(rect.min + vec2(28.0, 0.0), galley, colours.bad);
}

/// A place `lines` high for what is wrong with the settings beside it, or for a remark where nothing is. Its height is
/// always the same, so that nothing below it moves; text that is cut short is shown whole as a tooltip.
pub fn noted(ui: &mut Ui, lines: usize, wrong: Option<&str>, otherwise: &str) {
    let colours = palette(ui.ctx());
    let font = FontId::proportional(TextStyle::Body.resolve(ui.style()).size - 1.0);
    let (text, ink, left) = match wrong {
        Some(text) => (text, colours.bad, 28.0),
        None => (otherwise, colours.faint_ink, 0.0),
    };
    let high = ui.painter().layout_no_wrap(vec!["M"; lines].join("\n"), font.clone(), ink).size().y;
    let mut job = egui::text::LayoutJob::simple(text.to_owned(), font, ink, ui.available_width() - left);
    job.wrap.max_rows = lines;
    let galley = ui.painter().layout_job(job);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), high + 4.0), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, text));
    if wrong.is_some() {
        Icon::Wrong.paint(ui.painter(), Rect::from_min_size(rect.min + vec2(0.0, 1.0), Vec2::splat(20.0)), ink);
    }
    let is_whole = !galley.elided;
    ui.painter().galley(rect.min + vec2(left, 0.0), galley, ink);
    if !is_whole {
        response.on_hover_text(text);
    }
}

/// How a button looks.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Weight {
    Main,
    Plain,
    Quiet,
    Chosen,
}

/// The one thing to do next in a panel, across its width.
pub fn primary(ui: &mut Ui, icon: Option<Icon>, text: &str) -> Response {
    let width = ui.available_width();
    press(ui, icon, text, Weight::Main, Some(vec2(width, HEIGHT + 6.0)))
}

/// A button.
pub fn button(ui: &mut Ui, icon: Option<Icon>, text: &str) -> Response {
    press(ui, icon, text, Weight::Plain, None)
}

/// A button across the whole width.
pub fn wide_button(ui: &mut Ui, icon: Option<Icon>, text: &str) -> Response {
    let width = ui.available_width();
    press(ui, icon, text, Weight::Plain, Some(vec2(width, HEIGHT)))
}

/// A button across the whole width, as high as the [`primary`] one beside it.
pub fn secondary(ui: &mut Ui, text: &str) -> Response {
    let width = ui.available_width();
    press(ui, None, text, Weight::Plain, Some(vec2(width, HEIGHT + 6.0)))
}

/// A button that stays down while it is chosen.
pub fn tool(ui: &mut Ui, icon: Icon, text: &str, chosen: bool) -> Response {
    press(ui, Some(icon), text, if chosen { Weight::Chosen } else { Weight::Plain }, None)
}

/// The same without a sign.
pub fn tool_without_sign(ui: &mut Ui, text: &str, chosen: bool) -> Response {
    press(ui, None, text, if chosen { Weight::Chosen } else { Weight::Plain }, None)
}

/// A sign alone; `hint` says what it does.
pub fn sign(ui: &mut Ui, icon: Icon, hint: &str) -> Response {
    let response = press(ui, Some(icon), "", Weight::Quiet, Some(Vec2::splat(HEIGHT)));
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, true, hint));
    response.on_hover_text(hint)
}

/// An entry of a list, across its whole width, with a border of its own.
pub fn listed(ui: &mut Ui, chosen: bool, icon: Option<Icon>, text: &str) -> Response {
    let colours = palette(ui.ctx());
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT - 4.0), Sense::click());
    let enabled = ui.is_enabled();
    response.widget_info(|| WidgetInfo::selected(WidgetType::RadioButton, enabled, chosen, text));
    let near = response.hovered() || response.has_focus();
    let (fill, ink) = if chosen { (colours.accent, colours.on_accent) } else { (colours.raised, colours.ink) };
    let line = Stroke::new(1.0, if chosen || near { colours.accent } else { colours.line });
    ui.painter().rect(rect, CornerRadius::same(ROUND - 2), fill, line, StrokeKind::Inside);
    let mut left = rect.left() + 8.0;
    if let Some(icon) = icon {
        let field = Rect::from_min_size(pos2(left, rect.center().y - 0.5 * SIGN), Vec2::splat(SIGN));
        icon.paint(ui.painter(), field, ink);
        left += SIGN + 7.0;
    }
    let font = TextStyle::Button.resolve(ui.style());
    let mut job = egui::text::LayoutJob::simple_singleline(text.to_owned(), font, ink);
    job.wrap = egui::text::TextWrapping::truncate_at_width(rect.right() - left - 6.0);
    let galley = ui.painter().layout_job(job);
    ui.painter().galley(pos2(left, rect.center().y - 0.5 * galley.size().y), galley, ink);
    response
}

fn press(ui: &mut Ui, icon: Option<Icon>, text: &str, weight: Weight, size: Option<Vec2>) -> Response {
    let colours = palette(ui.ctx());
    let body = TextStyle::Button.resolve(ui.style());
    let font = if weight == Weight::Main { strong(body.size) } else { body };
    let galley = (!text.is_empty()).then(|| ui.painter().layout_no_wrap(text.to_owned(), font, colours.ink));
    let text_width = galley.as_ref().map_or(0.0, |g| g.size().x);
    let between = if icon.is_some() && galley.is_some() { 7.0 } else { 0.0 };
    let inner = text_width + between + if icon.is_some() { SIGN } else { 0.0 };
    let size = size.unwrap_or_else(|| vec2(inner + 24.0, HEIGHT));
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    let enabled = ui.is_enabled();
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Button, enabled, text));
    let down = response.is_pointer_button_down_on();
    let near = response.hovered() || response.has_focus();
    let (fill, line, ink) = match weight {
        Weight::Main | Weight::Chosen => {
            let fill = if down { colours.accent.gamma_multiply(0.85) } else { colours.accent };
            (fill, colours.accent, colours.on_accent)
        }
        Weight::Plain if down => (colours.line, colours.accent, colours.ink),
        Weight::Plain => (colours.raised, if near { colours.accent } else { colours.line }, colours.ink),
        Weight::Quiet if near => (colours.raised, colours.line, colours.ink),
        Weight::Quiet => (egui::Color32::TRANSPARENT, egui::Color32::TRANSPARENT, colours.ink),
    };
    let painter = ui.painter();
    let width = if response.has_focus() { 2.0 } else { 1.0 };
    painter.rect(rect, CornerRadius::same(ROUND), fill, Stroke::new(width, line), StrokeKind::Inside);
    let mut x = rect.center().x - 0.5 * inner;
    if let Some(icon) = icon {
        icon.paint(painter, Rect::from_min_size(pos2(x, rect.center().y - 0.5 * SIGN), Vec2::splat(SIGN)), ink);
        x += SIGN + between;
    }
    if let Some(galley) = galley {
        let at = pos2(x, rect.center().y - 0.5 * galley.size().y);
        painter.galley_with_override_text_color(at, galley, ink);
    }
    response
}

/// One of several to choose from.
#[derive(Clone, Copy)]
struct Choice<'a, T> {
    value: T,
    icon: Option<Icon>,
    text: &'a str,
    /// The tooltip; may be empty.
    tip: &'a str,
}

/// One of several, side by side in rows as wide as the panel; whether another one was chosen.
pub fn choice<T: PartialEq + Copy>(ui: &mut Ui, chosen: &mut T, of: &[(T, &str)]) -> bool {
    let plain = of.iter().map(|(value, text)| Choice { value: *value, icon: None, text, tip: "" });
    choose(ui, chosen, &plain.collect::<Vec<_>>())
}

/// As [`choice`], with a sign before each.
pub fn choice_with_signs<T: PartialEq + Copy>(ui: &mut Ui, chosen: &mut T, of: &[(T, Option<Icon>, &str)]) -> bool {
    let signed = of.iter().map(|(value, icon, text)| Choice { value: *value, icon: *icon, text, tip: "" });
    choose(ui, chosen, &signed.collect::<Vec<_>>())
}

/// As [`choice`], with a tooltip for each.
pub fn choice_with_tips<T: PartialEq + Copy>(ui: &mut Ui, chosen: &mut T, of: &[(T, &str, &str)]) -> bool {
    let told = of.iter().map(|(value, text, tip)| Choice { value: *value, icon: None, text, tip });
    choose(ui, chosen, &told.collect::<Vec<_>>())
}

fn choose<T: PartialEq + Copy>(ui: &mut Ui, chosen: &mut T, of: &[Choice<'_, T>]) -> bool {
    let colours = palette(ui.ctx());
    let font = TextStyle::Button.resolve(ui.style());
    let widths: Vec<f32> = of
        .iter()
        .map(|Choice { icon, text, .. }| {
            let text = ui.painter().layout_no_wrap((*text).to_owned(), font.clone(), colours.ink).size().x;
            text + 18.0 + if icon.is_some() { SIGN + 6.0 } else { 0.0 }
        })
        .collect();
    let room = ui.available_width();
    let mut changed = false;
    for row in rows(&widths, room) {
        let share = (room - row.clone().map(|i| widths[i]).sum::<f32>()) / row.len() as f32;
        let (field, _) = ui.allocate_exact_size(vec2(room, HEIGHT), Sense::hover());
        ui.painter().rect(
            field,
            CornerRadius::same(ROUND),
            colours.raised,
            Stroke::new(1.0, colours.line),
            StrokeKind::Inside,
        );
        let mut x = field.left();
        for i in row {
            let Choice { value, icon, text, tip } = of[i];
            let cell = Rect::from_min_size(pos2(x, field.top()), vec2(widths[i] + share, HEIGHT));
            x = cell.right();
            let response = ui.interact(cell, ui.id().with(("choice", text, i, field.top() as i32)), Sense::click());
            let here = *chosen == value;
            let enabled = ui.is_enabled();
            response.widget_info(|| WidgetInfo::selected(WidgetType::RadioButton, enabled, here, text));
            let ink = if here { colours.on_accent } else { colours.ink };
            if here {
                ui.painter().rect_filled(cell.shrink(2.0), CornerRadius::same(ROUND - 2), colours.accent);
            } else {
                // A border shows what can be chosen before the pointer comes near.
                let near = response.hovered() || response.has_focus();
                let line = Stroke::new(1.0, if near { colours.accent } else { colours.line });
                ui.painter().rect_stroke(cell.shrink(2.0), CornerRadius::same(ROUND - 2), line, StrokeKind::Inside);
            }
            let galley = ui.painter().layout_no_wrap(text.to_owned(), font.clone(), ink);
            let sign = if icon.is_some() { SIGN + 6.0 } else { 0.0 };
            let mut at = cell.center() - 0.5 * vec2(galley.size().x + sign, galley.size().y);
            if let Some(icon) = icon {
                let corner = pos2(at.x, cell.center().y - 0.5 * SIGN);
                icon.paint(ui.painter(), Rect::from_min_size(corner, Vec2::splat(SIGN)), ink);
                at.x += sign;
            }
            ui.painter().galley(at, galley, ink);
            let response = if tip.is_empty() { response } else { response.on_hover_text(tip) };
            if response.clicked() && !here {
                *chosen = value;
                changed = true;
            }
        }
    }
    changed
}

/// Puts things of these widths into rows: as few as fit, filled evenly.
fn rows(widths: &[f32], room: f32) -> Vec<std::ops::Range<usize>> {
    (1..=widths.len())
        .map(|count| {
            let each = widths.len().div_ceil(count);
            (0..widths.len()).step_by(each.max(1)).map(|i| i..(i + each).min(widths.len())).collect::<Vec<_>>()
        })
        .find(|rows| rows.len() == widths.len() || rows.iter().all(|r| widths[r.clone()].iter().sum::<f32>() <= room))
        .unwrap_or_default()
}

/// On or off.
pub fn switch(ui: &mut Ui, on: &mut bool, text: &str) -> Response {
    let colours = palette(ui.ctx());
    let font = TextStyle::Body.resolve(ui.style());
    let track = vec2(40.0, 22.0);
    let galley = ui.painter().layout(text.to_owned(), font, colours.ink, ui.available_width() - track.x - 12.0);
    let size = vec2(ui.available_width(), (galley.size().y + 6.0).max(30.0));
    let (rect, mut response) = ui.allocate_exact_size(size, Sense::click());
    if response.clicked() {
        *on = !*on;
        response.mark_changed();
    }
    let enabled = ui.is_enabled();
    let is_on = *on;
    response.widget_info(|| WidgetInfo::selected(WidgetType::Checkbox, enabled, is_on, text));
    let field = Rect::from_center_size(pos2(rect.right() - 0.5 * track.x, rect.center().y), track);
    let part = ui.ctx().animate_bool_responsive(response.id, *on);
    let fill = if *on { colours.accent } else { colours.raised };
    let near = response.hovered() || response.has_focus();
    let line = Stroke::new(1.3, if *on || near { colours.accent } else { colours.faint_ink });
    ui.painter().rect(field, CornerRadius::same(11), fill, line, StrokeKind::Inside);
    let knob = pos2(egui::lerp((field.left() + 11.0)..=(field.right() - 11.0), part), field.center().y);
    ui.painter().circle_filled(knob, 7.0, if *on { colours.on_accent } else { colours.faint_ink });
    ui.painter().galley(pos2(rect.left(), rect.center().y - 0.5 * galley.size().y), galley, colours.ink);
    response
}

/// A name and its figure on one line, the figure at the right.
pub fn figure(ui: &mut Ui, name: &str, figure: &str) {
    let colours = palette(ui.ctx());
    let body = TextStyle::Body.resolve(ui.style());
    let value = ui.painter().layout_no_wrap(figure.to_owned(), strong(body.size), colours.ink);
    let room = (ui.available_width() - value.size().x - 12.0).max(60.0);
    let label = ui.painter().layout(name.to_owned(), body, colours.faint_ink, room);
    let height = label.size().y.max(value.size().y) + 2.0;
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, format!("{name}: {figure}")));
    ui.painter().galley(rect.min, label, colours.faint_ink);
    ui.painter().galley(pos2(rect.right() - value.size().x, rect.top()), value, colours.ink);
}

/// One line of a bar chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What it is of.
    pub name: String,
    /// Its length, in the unit of all bars of the chart.
    pub value: f64,
    /// The figure in words.
    pub text: String,
    /// How far it may be off: the least and the most, in the same unit.
    pub range: Option<[f64; 2]>,
    /// It is drawn in the accent.
    pub chosen: bool,
}

/// Bars from one baseline and to one scale, each with its name before and its figure after it.
pub fn bars(ui: &mut Ui, bars: &[Bar]) {
    let colours = palette(ui.ctx());
    let font = TextStyle::Body.resolve(ui.style());
    let lay = |text: &str| ui.painter().layout_no_wrap(text.to_owned(), font.clone(), colours.ink);
    let widest = |of: fn(&Bar) -> &str| bars.iter().map(|bar| lay(of(bar)).size().x).fold(0.0, f32::max);
    let width = ui.available_width();
    let name_room = widest(|bar| &bar.name).min(0.34 * width) + 12.0;
    let length_room = (width - name_room - widest(|bar| &bar.text) - 10.0).max(24.0);
    let end = |bar: &Bar| bar.range.map_or(bar.value, |[_, high]| high.max(bar.value));
    let most = bars.iter().map(end).fold(f64::MIN_POSITIVE, f64::max);
    for bar in bars {
        let (rect, response) = ui.allocate_exact_size(vec2(width, 20.0), Sense::hover());
        let said = format!("{}: {}", bar.name, bar.text);
        response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &said));
        let mut job = egui::text::LayoutJob::simple_singleline(bar.name.clone(), font.clone(), colours.ink);
        job.wrap = egui::text::TextWrapping::truncate_at_width(name_room - 10.0);
        let name = ui.painter().layout_job(job);
        ui.painter().galley(pos2(rect.left(), rect.center().y - 0.5 * name.size().y), name, colours.ink);
        let long = |value: f64| (length_room * (value / most) as f32).max(2.0);
        let length = long(bar.value);
        let field = Rect::from_min_size(pos2(rect.left() + name_room, rect.center().y - 6.0), vec2(length, 12.0));
        ui.painter().rect_filled(
            field,
            CornerRadius::same(3),
            if bar.chosen { colours.accent } else { colours.faint_ink },
        );
        let mut right = field.right();
        if let Some([low, high]) = bar.range {
            let (from, to) = (field.left() + long(low), field.left() + long(high));
            right = right.max(to);
            // On a light ground, so that it is seen over the bar as well.
            for (width, ink) in [(4.5, colours.paper), (2.0, colours.ink)] {
                let line = Stroke::new(width, ink);
                ui.painter().hline(from..=to, rect.center().y, line);
                for x in [from, to] {
                    ui.painter().vline(x, rect.center().y - 4.0..=rect.center().y + 4.0, line);
                }
            }
        }
        let text = ui.painter().layout_no_wrap(bar.text.clone(), font.clone(), colours.ink);
        ui.painter().galley(pos2(right + 8.0, rect.center().y - 0.5 * text.size().y), text, colours.ink);
    }
}

/// A small text anchored at a point.
pub fn caption(ui: &Ui, at: egui::Pos2, anchor: Align2, text: &str) -> Rect {
    let colours = palette(ui.ctx());
    ui.painter().text(at, anchor, text, TextStyle::Small.resolve(ui.style()), colours.ink)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn choices_go_into_as_few_even_rows_as_fit() {
        assert_eq!(rows(&[50.0; 4], 300.0), vec![0..4; 1]);
        assert_eq!(rows(&[80.0; 4], 300.0), [0..2, 2..4]);
        assert_eq!(rows(&[80.0; 7], 300.0), [0..3, 3..6, 6..7]);
        assert_eq!(rows(&[400.0, 20.0], 300.0), [0..1, 1..2]);
        assert!(rows(&[], 300.0).is_empty());
    }
}
