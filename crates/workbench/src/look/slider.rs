//! A labelled slider: name, value with unit that can be typed over, track, and a sign if something is wrong with it.

use std::ops::RangeInclusive;

use bevy_egui::egui::{
    self, CornerRadius, CursorIcon, DragValue, Key, Rect, Sense, Stroke, Ui, WidgetInfo, pos2, vec2,
};

use super::icons::Icon;
use super::{palette, steady};

/// Least width of the figure.
const FIGURE: f32 = 58.0;
/// Side of the sign beside the name of a setting that is wrong.
const SIGN: f32 = 14.0;

/// A number to be set.
pub struct Setting<'a> {
    name: &'a str,
    unit: &'a str,
    range: RangeInclusive<f32>,
    step: f32,
    logarithmic: bool,
    wrong: bool,
    named: bool,
    tip: Option<&'a str>,
}

/// What the user did to it in this frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Moved {
    /// The number has changed.
    pub changed: bool,
    /// It was let go: the change is complete.
    pub let_go: bool,
}

impl<'a> Setting<'a> {
    /// A number of that name and unit, such as "Wall" in "mm", between two ends.
    pub fn new(name: &'a str, unit: &'a str, range: RangeInclusive<f32>) -> Self {
        Self { name, unit, range, step: 0.1, logarithmic: false, wrong: false, named: true, tip: None }
    }

    /// Moves in steps of this size; 0.1 by default.
    pub fn step(mut self, step: f32) -> Self {
        self.step = step;
        self
    }

    /// Makes the track logarithmic.
    pub fn logarithmic(mut self) -> Self {
        self.logarithmic = true;
        self
    }

    /// A tooltip on its name that says what it is.
    pub fn tip(mut self, tip: &'a str) -> Self {
        self.tip = Some(tip);
        self
    }

    /// Marks it as wrong; what is wrong is said in a [`super::noted`] place.
    pub fn wrong(mut self, wrong: bool) -> Self {
        self.wrong = wrong;
        self
    }

    /// What it is called.
    pub fn name(&self) -> &'a str {
        self.name
    }

    /// Leaves the name out, where it stands above.
    pub fn without_name(mut self) -> Self {
        self.named = false;
        self
    }

    /// Shows it.
    pub fn show(self, ui: &mut Ui, value: &mut f32) -> Moved {
        let colours = palette(ui.ctx());
        let before = *value;
        let mut let_go = false;
        let decimals = decimals(self.step);
        steady(ui, self.name, |ui| {
            ui.spacing_mut().item_spacing.y = 1.0;
            ui.horizontal(|ui| {
                let ink = if self.wrong { colours.bad } else { colours.ink };
                let name = ui.label(egui::RichText::new(if self.named { self.name } else { "" }).color(ink));
                if self.wrong {
                    let side = vec2(SIGN, name.rect.height());
                    let (field, _) = ui.allocate_exact_size(side, Sense::hover());
                    Icon::Wrong.paint(ui.painter(), Rect::from_center_size(field.center(), vec2(SIGN, SIGN)), ink);
                }
                if let Some(tip) = self.tip {
                    name.on_hover_text(tip);
                }
                ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                    ui.label(egui::RichText::new(self.unit).color(colours.faint_ink));
                    // As wide with few digits as with many.
                    ui.spacing_mut().interact_size.x = FIGURE;
                    let field = DragValue::new(value)
                        .range(self.range.clone())
                        .speed(self.step)
                        .fixed_decimals(decimals)
                        .update_while_editing(false);
                    let response = ui.add(field);
                    let_go |= response.drag_stopped() || response.lost_focus();
                });
            });
            let_go |= self.track(ui, value);
        });
        Moved { changed: *value != before, let_go }
    }

    fn track(&self, ui: &mut Ui, value: &mut f32) -> bool {
        let colours = palette(ui.ctx());
        let (rect, mut response) = ui.allocate_exact_size(vec2(ui.available_width(), 24.0), Sense::click_and_drag());
        let radius = 8.0;
        let (left, right) = (rect.left() + radius, rect.right() - radius);
        let mut let_go = response.drag_stopped() || response.clicked();
        // A quick press may be over within one slow frame.
        let pressed = response.is_pointer_button_down_on() || response.clicked();
        if let Some(at) = response.interact_pointer_pos().filter(|_| pressed) {
            let new = self.snap(self.value_at((at.x - left) / (right - left)));
            if new != *value {
                *value = new;
                response.mark_changed();
            }
        }
        // After a drag, the arrow keys move it further.
        if let_go {
            response.request_focus();
        }
        if response.has_focus() {
            let filter = egui::EventFilter { horizontal_arrows: true, ..egui::EventFilter::default() };
            ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, filter));
            let by =
                ui.input(|input| input.num_presses(Key::ArrowRight) as f32 - input.num_presses(Key::ArrowLeft) as f32);
            if by != 0.0 {
                *value = self.snap(*value + by * self.step);
                let_go = true;
            }
        }
        let enabled = ui.is_enabled();
        let now = f64::from(*value);
        response.widget_info(|| WidgetInfo::slider(enabled, now, self.name));
        let share = self.share_of(*value).clamp(0.0, 1.0);
        let (y, x) = (rect.center().y, left + share * (right - left));
        let ink = if self.wrong { colours.bad } else { colours.accent };
        let bar = |from: f32, to: f32, half: f32| Rect::from_min_max(pos2(from, y - half), pos2(to, y + half));
        // The part that is not filled is thinner, so that the two can be told apart in any colours.
        ui.painter().rect_filled(bar(rect.left(), rect.right(), 1.0), CornerRadius::same(1), colours.line);
        ui.painter().rect_filled(bar(rect.left(), x, 2.5), CornerRadius::same(2), ink);
        let grown = if response.hovered() || response.dragged() || response.has_focus() { 1.5 } else { 0.0 };
        ui.painter().circle(pos2(x, y), radius - 1.0 + grown, colours.raised, Stroke::new(2.5, ink));
        if response.hovered() {
            ui.ctx().set_cursor_icon(CursorIcon::ResizeHorizontal);
        }
        let_go
    }

    fn value_at(&self, share: f32) -> f32 {
        let (low, high) = (*self.range.start(), *self.range.end());
        let share = share.clamp(0.0, 1.0);
        if self.logarithmic && low > 0.0 { low * (high / low).powf(share) } else { low + (high - low) * share }
    }

    fn share_of(&self, value: f32) -> f32 {
        let (low, high) = (*self.range.start(), *self.range.end());
        if self.logarithmic && low > 0.0 {
            (value.max(low) / low).ln() / (high / low).ln()
        } else {
            (value - low) / (high - low).max(f32::EPSILON)
        }
    }

    /// The nearest whole step, rounded to the step's decimals.
    fn snap(&self, value: f32) -> f32 {
        let snapped = (value / self.step).round() * self.step;
        let scale = 10.0_f32.powi(decimals(self.step) as i32);
        ((snapped * scale).round() / scale).clamp(*self.range.start(), *self.range.end())
    }
}

fn decimals(step: f32) -> usize {
    (0..4).find(|n| (step * 10.0_f32.powi(*n as i32)).fract().abs() < 1e-3).unwrap_or(3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_track_and_the_value_are_each_others_inverse() {
        for setting in [Setting::new("wall", "mm", 0.8..=10.0), Setting::new("brush", "mm", 2.0..=80.0).logarithmic()] {
            for i in 0..=20 {
                let share = i as f32 / 20.0;
                assert!((setting.share_of(setting.value_at(share)) - share).abs() < 1e-5);
            }
        }
    }

    /// What is said above a slider may come and go while it has the focus.
    #[test]
    fn it_keeps_the_keyboard_when_something_comes_above_it() {
        let ctx = egui::Context::default();
        crate::look::apply(&ctx, &crate::look::colours::CALM);
        let mut wall = 3.0;
        let mut frame = |told: usize, events: Vec<egui::Event>| {
            let input = egui::RawInput { events, ..egui::RawInput::default() };
            drop(ctx.run_ui(input, |ui| {
                (0..told).for_each(|_| drop(ui.label("told")));
                Setting::new("Wall", "mm", 0.8..=10.0).show(ui, &mut wall);
            }));
            wall
        };
        let pressed = |key: Key| egui::Event::Key {
            key,
            physical_key: None,
            pressed: true,
            repeat: false,
            modifiers: egui::Modifiers::NONE,
        };
        frame(0, Vec::new());
        // The first is the field, the second the track.
        frame(0, vec![pressed(Key::Tab)]);
        frame(0, vec![pressed(Key::Tab)]);
        assert_eq!(frame(0, vec![pressed(Key::ArrowRight)]), 3.1);
        for told in [1, 3, 0] {
            let before = frame(told, Vec::new());
            let after = frame(told, vec![pressed(Key::ArrowRight)]);
            assert!((after - before - 0.1).abs() < 1e-4, "{told} told: {before} {after}");
        }
    }

    #[test]
    fn values_go_by_whole_steps_inside_the_range() {
        let wall = Setting::new("wall", "mm", 0.8..=10.0);
        assert_eq!(wall.snap(3.149), 3.1);
        assert_eq!(wall.snap(0.1), 0.8);
        assert_eq!(wall.snap(99.0), 10.0);
        let turn = Setting::new("turn", "°", -180.0..=180.0).step(5.0);
        assert_eq!(turn.snap(47.6), 50.0);
        assert_eq!((decimals(5.0), decimals(0.1), decimals(0.25)), (0, 1, 2));
    }
}
