//! The window: steps along the top, one side panel, the stage, one line below.

use bevy::camera::Viewport;
use bevy::prelude::*;
use bevy::window::PrimaryWindow;
use bevy_egui::egui::{self, Align, Frame, LayerId, Layout, Margin, RichText, UiBuilder};
use bevy_egui::{EguiContext, EguiContexts};

use crate::actions::{self, Action, Asked};
use crate::bench::Bench;
use crate::look;
use crate::look::colours::{CALM, Palette, STRONG};
use crate::look::icons::Icon;
use crate::overlay::{self, Sight};
use crate::panel::{self, Desk};
use crate::stage::StageCamera;
use crate::step::Step;
use crate::view::View;

/// Width of the side panel at usual text size.
const PANEL_WIDTH: f32 = 348.0;

/// Height of the line below.
const LINE_HEIGHT: f32 = 36.0;

/// Where the stage is, in the window's own units.
#[derive(Resource, Debug, Clone, Copy, Default)]
pub struct StageRect(pub Rect);

impl StageRect {
    /// How many times as wide as high it is; a usual value before the window is laid out.
    #[must_use]
    pub fn aspect(&self) -> f32 {
        if self.0.is_empty() { 1.35 } else { self.0.width() / self.0.height() }
    }
}

/// The colours that the user has chosen.
pub fn palette(bench: &Bench) -> Palette {
    if bench.session.preferences.high_contrast { STRONG } else { CALM }
}

/// Draws everything around the stage.
#[allow(clippy::too_many_arguments)]
pub fn draw(
    mut contexts: EguiContexts,
    mut bench: ResMut<Bench>,
    mut view: ResMut<View>,
    mut asked: ResMut<Asked>,
    mut stage: ResMut<StageRect>,
    camera: Single<(&Camera, &Transform), With<StageCamera>>,
    mut dressed: Local<Option<(bool, u32)>>,
    mut typing: ResMut<crate::typing::Typing>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    let colours = palette(&bench);
    let preferences = &bench.session.preferences;
    let wanted = (preferences.high_contrast, preferences.text_scale.to_bits());
    if *dressed != Some(wanted) {
        crate::look::apply(ctx, &colours);
        ctx.set_zoom_factor(preferences.text_scale);
        // The size of the text is a setting, with keys of its own.
        ctx.options_mut(|options| options.zoom_with_keyboard = false);
        *dressed = Some(wanted);
        // Fonts are there from the next frame on.
        return Ok(());
    }
    let mut root = egui::Ui::new(
        ctx.clone(),
        "window".into(),
        UiBuilder::new().layer_id(LayerId::background()).max_rect(ctx.viewport_rect()),
    );
    let mut desk =
        Desk { bench: bench.bypass_change_detection(), view: view.bypass_change_detection(), asked: &mut asked };
    let bar = Frame::NONE.fill(colours.paper).inner_margin(Margin::symmetric(18, 8));
    // To show the guard, all but the line below may go.
    let clean = desk.view.step == Step::Show && desk.view.show.clean;
    if !clean {
        egui::Panel::top("steps").frame(bar).show(&mut root, |ui| steps(ui, &mut desk));
    }
    egui::Panel::bottom("line").frame(bar).show(&mut root, |ui| line(ui, &mut desk, &colours));
    let side = Frame::NONE.fill(colours.paper).inner_margin(Margin { left: 20, right: 4, top: 16, bottom: 16 });
    if !clean {
        egui::Panel::right("panel").frame(side).exact_size(PANEL_WIDTH).resizable(false).show(&mut root, |ui| {
            egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
                // The bar for scrolling runs beside the panel, not over it.
                Frame::NONE
                    .inner_margin(Margin { right: 16, ..Margin::ZERO })
                    .show(ui, |ui| panel::show(ui, &mut desk));
            });
        });
    }
    if desk.bench.files.arrived.is_some() {
        egui::Panel::bottom("arrived").frame(bar).show(&mut root, |ui| panel::files::arrived(ui, &mut desk));
    }
    let rest = root.available_rect_before_wrap();
    let (camera, place) = camera.into_inner();
    let clip_from_stage = camera.clip_from_view() * place.to_matrix().inverse();
    let sight = Sight { clip_from_stage, eye: place.translation, field: rest };
    root.scope_builder(UiBuilder::new().max_rect(rest), |ui| {
        ui.set_clip_rect(rest);
        overlay::show(ui, &sight, &mut desk);
    });
    let looks = desk.view.step == Step::Fit;
    desk.bench.session.look_at_fit(desk.view.looking.cut_at().filter(|_| looks));
    if desk.view.actions_open {
        actions::list(ctx, &mut desk);
    }
    if desk.view.settings_open {
        let mut open = true;
        if look::settings(ctx, &mut open, &mut desk.bench.session.preferences) {
            desk.bench.session.keep_preferences();
        }
        desk.view.settings_open = open;
    }
    crate::files::windows(ctx, desk.bench);
    typing.look_at(ctx);
    let zoom = ctx.zoom_factor();
    stage.0 = Rect::new(rest.min.x * zoom, rest.min.y * zoom, rest.max.x * zoom, rest.max.y * zoom);
    Ok(())
}

fn steps(ui: &mut egui::Ui, desk: &mut Desk<'_>) {
    ui.horizontal(|ui| {
        let derived = desk.bench.session.derived();
        let shell = desk.bench.session.design().is_some_and(|design| derived.best_shell(design).is_some());
        let made = [derived.limb.value().is_some(), derived.zone.value().is_some(), shell];
        // Four signs stand at the right.
        let width = ui.available_width() - 4.0 * 44.0;
        if let Some(step) = look::steps(ui, desk.view.step, made, width) {
            desk.view.step = step;
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            for (icon, action) in [
                (Icon::Settings, Action::Settings),
                (Icon::Keys, Action::List),
                (Icon::Redo, Action::Redo),
                (Icon::Undo, Action::Undo),
            ] {
                if look::sign(ui, icon, &format!("{}   {}", action.name(), action.key().label())).clicked() {
                    desk.asked.0.push(action);
                }
            }
        });
    });
}

fn line(ui: &mut egui::Ui, desk: &mut Desk<'_>, colours: &Palette) {
    // As high with a button as without, so that the stage stays where it is.
    ui.set_min_height(LINE_HEIGHT);
    ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
        if let Some(progress) = desk.bench.files.drawing.progress().iter().chain(&desk.bench.session.progress()).next()
        {
            if look::button(ui, Some(Icon::Stop), "Stop").clicked() {
                desk.asked.0.push(Action::Stop);
            }
            ui.add(egui::ProgressBar::new(progress.fraction).desired_width(140.0));
            ui.label(&progress.what);
        }
        // What is said takes the rest of the line, and more lines where it is long.
        ui.with_layout(Layout::left_to_right(Align::Center).with_main_wrap(false), |ui| {
            let text = match desk.bench.fresh() {
                Some(said) => RichText::new(&said.sentence).color(if said.bad { colours.bad } else { colours.ink }),
                None => RichText::new(panel::guidance(desk)).color(colours.faint_ink),
            };
            ui.add(egui::Label::new(text).wrap());
        });
    });
}

/// Keeps the stage's camera to its part of the window.
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

/// Lays the chosen colours behind the limb.
pub fn clear_colour(bench: Res<Bench>, mut clear: ResMut<ClearColor>) {
    let [r, g, b, _] = palette(&bench).stage.to_array();
    let wanted = Color::srgb_u8(r, g, b);
    if clear.0 != wanted {
        clear.0 = wanted;
    }
}
