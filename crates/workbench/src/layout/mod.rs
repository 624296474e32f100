//! The window: steps along the top, one side panel, the stage, one line below.

mod steps;

use bevy::camera::Viewport;
use bevy::ecs::system::SystemParam;
use bevy::prelude::*;
use bevy::window::PrimaryWindow;
use bevy_egui::egui::{self, Align, Frame, LayerId, Layout, Margin, UiBuilder};
use bevy_egui::{EguiContext, EguiContexts};

use crate::actions::{Action, Asked};
use crate::desk::Desk;
use crate::look;
use crate::look::colours::{CALM, Palette, STRONG};
use crate::look::icons::Icon;
use crate::overlay::{self, Sight};
use crate::stage::StageCamera;
use crate::state::{Bench, StageRect, Step, Typing, View};
use crate::{dialog, panel};

/// Width of the side panel at usual text size.
const PANEL_WIDTH: f32 = 348.0;

/// Height of the line below: two lines of its text.
const LINE_HEIGHT: f32 = 38.0;
/// Size of its text.
const LINE_TEXT: f32 = 14.0;

/// The colours that the user has chosen.
pub fn palette(bench: &Bench) -> Palette {
    if bench.session.preferences.high_contrast { STRONG } else { CALM }
}

/// What the window is drawn from.
#[derive(SystemParam)]
pub struct Shown<'w, 's> {
    bench: ResMut<'w, Bench>,
    view: ResMut<'w, View>,
    asked: ResMut<'w, Asked>,
    stage: ResMut<'w, StageRect>,
    typing: ResMut<'w, Typing>,
    camera: Single<'w, 's, (&'static Camera, &'static Transform), With<StageCamera>>,
    last: Local<'s, Last>,
}

/// How it was drawn last.
#[derive(Default)]
pub struct Last {
    /// Contrast, and the size of the text in bits.
    look: Option<(bool, u32)>,
    step: Option<Step>,
}

/// Draws everything around the stage.
pub fn draw(mut contexts: EguiContexts, mut shown: Shown) -> Result {
    let ctx = contexts.ctx_mut()?;
    let Shown { bench, view, asked, stage, typing, camera, last } = &mut shown;
    let colours = palette(bench);
    if dress(ctx, bench, &colours, last) {
        // Fonts are there from the next frame on.
        return Ok(());
    }
    let mut root = egui::Ui::new(
        ctx.clone(),
        "window".into(),
        UiBuilder::new().layer_id(LayerId::background()).max_rect(ctx.viewport_rect()),
    );
    let mut desk = Desk { bench: bench.bypass_change_detection(), view: view.bypass_change_detection(), asked };
    let bar = Frame::NONE.fill(colours.paper).inner_margin(Margin::symmetric(18, 8));
    // To show the guard, all but the line below may go.
    let clean = desk.view.step == Step::Show && desk.view.show.clean;
    if !clean {
        egui::Panel::top("steps").frame(bar).show(&mut root, |ui| top(ui, &mut desk));
    }
    egui::Panel::bottom("line").frame(bar).show(&mut root, |ui| line(ui, &mut desk, &colours));
    if !clean {
        // A new step begins at its top.
        let is_new = last.step.replace(desk.view.step) != Some(desk.view.step);
        side(&mut root, &mut desk, &colours, is_new);
    }
    let rest = root.available_rect_before_wrap();
    let (lens, place) = &**camera;
    let clip_from_stage = lens.clip_from_view() * place.to_matrix().inverse();
    let sight = Sight { clip_from_stage, eye: place.translation, field: rest };
    root.scope_builder(UiBuilder::new().max_rect(rest), |ui| {
        ui.set_clip_rect(rest);
        overlay::show(ui, &sight, &mut desk);
    });
    if desk.bench.files.arrived.is_some() {
        // Over the stage, so that the stage does not move under the hand.
        let place = egui::pos2(rest.center().x, rest.bottom() - 12.0);
        let area = egui::Area::new("arrived".into()).pivot(egui::Align2::CENTER_BOTTOM).fixed_pos(place);
        area.show(ctx, |ui| bar.corner_radius(8).show(ui, |ui| panel::arrived(ui, &mut desk)));
    }
    let looks = desk.view.step == Step::Fit;
    desk.bench.session.look_at_fit(desk.view.fit.cut_at().filter(|_| looks));
    desk.bench.session.weigh_looks(desk.view.step == Step::Show);
    let material = &desk.view.material;
    desk.bench.session.look_at_strength(desk.view.step == Step::Material, material.map, material.wall_mm);
    dialog::show(ctx, &mut desk);
    typing.look_at(ctx);
    let zoom = ctx.zoom_factor();
    stage.0 = Rect::new(rest.min.x * zoom, rest.min.y * zoom, rest.max.x * zoom, rest.max.y * zoom);
    Ok(())
}

/// Sets colours and size of text where the user has changed them; whether it did.
fn dress(ctx: &egui::Context, bench: &Bench, colours: &Palette, last: &mut Last) -> bool {
    let preferences = &bench.session.preferences;
    let wanted = Some((preferences.high_contrast, preferences.text_scale.to_bits()));
    if last.look == wanted {
        return false;
    }
    look::apply(ctx, colours);
    ctx.set_zoom_factor(preferences.text_scale);
    // Text size is a setting with keys of its own.
    ctx.options_mut(|options| {
        options.zoom_with_keyboard = false;
        // A press that does not move is a click, however long a slow hand takes over it.
        options.input_options.max_click_duration = f64::INFINITY;
    });
    last.look = wanted;
    true
}

/// The side panel: that of the current step, and below it what every step needs.
fn side(root: &mut egui::Ui, desk: &mut Desk<'_>, colours: &Palette, is_new: bool) {
    let frame = Frame::NONE.fill(colours.paper);
    egui::Panel::right("panel").frame(frame).exact_size(PANEL_WIDTH).resizable(false).show(root, |ui| {
        let below = frame.inner_margin(Margin { left: 20, right: 20, top: 10, bottom: 10 });
        egui::Panel::bottom("in every step").frame(below).show(ui, |ui| in_every_step(ui, desk));
        frame.inner_margin(Margin { left: 20, right: 4, top: 16, bottom: 4 }).show(ui, |ui| {
            let mut area = egui::ScrollArea::vertical().auto_shrink(false);
            if let Some(down) = desk.view.scroll_to.take().or(is_new.then_some(0.0)) {
                area = area.vertical_scroll_offset(down);
            }
            let shown = area.show(ui, |ui| {
                // The scroll bar runs beside the panel, not over it.
                Frame::NONE.inner_margin(Margin { right: 16, ..Margin::ZERO }).show(ui, |ui| panel::show(ui, desk));
            });
            desk.view.panel = [shown.content_size.y, shown.inner_rect.height()];
        });
    });
}

/// Open and save, back and on.
fn in_every_step(ui: &mut egui::Ui, desk: &mut Desk<'_>) {
    let step = desk.view.step;
    let open = desk.bench.session.document().is_some();
    let next = step.next().map_or_else(|| "Next".to_owned(), |next| format!("Next: {}", next.name()));
    let rows = [
        [(Some(Icon::Open), "Open…", Action::Open, true), (Some(Icon::Save), "Save", Action::Save, open)],
        [
            (None, "Back", Action::PreviousStep, step.previous().is_some()),
            (None, next.as_str(), Action::NextStep, step.next().is_some()),
        ],
    ];
    for row in rows {
        ui.columns(2, |columns| {
            for (ui, (icon, text, action, enabled)) in columns.iter_mut().zip(row) {
                let button = ui.add_enabled_ui(enabled, |ui| look::wide_button(ui, icon, text)).inner;
                if button.on_hover_text(format!("{}   {}", action.name(), action.keys())).clicked() {
                    desk.asked.0.push(action);
                }
            }
        });
    }
}

fn top(ui: &mut egui::Ui, desk: &mut Desk<'_>) {
    ui.horizontal(|ui| {
        let derived = desk.bench.session.derived();
        let shell = desk.bench.session.design().is_some_and(|design| derived.best_shell(design).is_some());
        let made = [derived.limb.value().is_some(), derived.zone.value().is_some(), shell];
        let signs = [
            (Icon::Settings, Action::Settings),
            (Icon::Keys, Action::List),
            (Icon::Redo, Action::Redo),
            (Icon::Undo, Action::Undo),
            (Icon::SeeAll, Action::SeeAll),
        ];
        let width = ui.available_width() - signs.len() as f32 * 44.0;
        if let Some(step) = steps::show(ui, desk.view.step, made, width) {
            desk.view.step = step;
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            for (icon, action) in signs {
                if look::sign(ui, icon, &format!("{}   {}", action.name(), action.keys())).clicked() {
                    desk.asked.0.push(action);
                }
            }
        });
    });
}

fn line(ui: &mut egui::Ui, desk: &mut Desk<'_>, colours: &Palette) {
    // The same height with a button as without, so that the stage does not move.
    ui.set_min_height(LINE_HEIGHT);
    ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
        // What is too short to say what it does is not shown: it would only flicker.
        let mut running = desk.bench.files.rendering.progress().into_iter().chain(desk.bench.session.progress());
        if let Some(progress) = running.find(|progress| !progress.what.is_empty()) {
            if look::button(ui, Some(Icon::Stop), "Stop").on_hover_text(Action::Stop.keys()).clicked() {
                desk.asked.0.push(Action::Stop);
            }
            ui.add(egui::ProgressBar::new(progress.fraction).desired_width(140.0));
            ui.label(&progress.what);
        }
        // A message takes the rest of the width and at most two lines, so that the bar never grows.
        ui.with_layout(Layout::left_to_right(Align::Center).with_main_wrap(false), |ui| {
            let (text, ink) = match desk.bench.fresh() {
                Some(said) => (said.sentence.clone(), if said.bad { colours.bad } else { colours.ink }),
                None => (panel::guidance(desk), colours.faint_ink),
            };
            let font = egui::FontId::proportional(LINE_TEXT);
            let mut job = egui::text::LayoutJob::simple(text.clone(), font, ink, ui.available_width());
            job.wrap.max_rows = 2;
            let galley = ui.painter().layout_job(job);
            let is_whole = !galley.elided;
            let label = ui.label(galley);
            if !is_whole {
                label.on_hover_text(text);
            }
        });
    });
}

/// Keeps the stage's camera within its part of the window.
pub fn fit_stage(
    stage: Res<StageRect>,
    window: Single<&Window, With<PrimaryWindow>>,
    mut camera: Single<&mut Camera, (With<StageCamera>, Without<EguiContext>)>,
) {
    let scale = window.scale_factor();
    let limit = UVec2::new(window.physical_width(), window.physical_height());
    let low = (stage.0.min * scale).as_uvec2().min(limit);
    let size = (stage.0.size() * scale).as_uvec2().min(limit - low);
    if size.x < 16 || size.y < 16 {
        return;
    }
    let now = camera.viewport.as_ref().map(|v| (v.physical_position, v.physical_size));
    if now != Some((low, size)) {
        camera.viewport = Some(Viewport { physical_position: low, physical_size: size, ..default() });
    }
}

/// Sets the background colour of the stage.
pub fn clear_colour(bench: Res<Bench>, mut clear: ResMut<ClearColor>) {
    let [r, g, b, _] = palette(&bench).stage.to_array();
    let wanted = Color::srgb_u8(r, g, b);
    if clear.0 != wanted {
        clear.0 = wanted;
    }
}
