//! The workbench without a window, driven by a program: for tests and benches, and to draw the stage where there is no
//! screen.
//!
//! All systems of the window run as usual, on the same messages of mouse and keys.

mod texts;

use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use bevy::app::PluginsState;
use bevy::camera::{ImageRenderTarget, RenderTarget};
use bevy::ecs::schedule::{Schedules, SingleThreadedExecutor};
use bevy::input::ButtonState;
use bevy::input::keyboard::{Key, KeyboardInput, NativeKey};
use bevy::input::mouse::{MouseButtonInput, MouseScrollUnit, MouseWheel};
use bevy::input::touch::TouchPhase;
use bevy::log::{Level, LogPlugin};
use bevy::prelude::*;
use bevy::render::render_resource::{PollType, TextureFormat, TextureUsages};
use bevy::render::renderer::{RenderAdapterInfo, RenderDevice};
use bevy::render::settings::WgpuSettings;
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use bevy::render::{Render, RenderApp, RenderPlugin, RenderSystems};
use bevy::window::{PrimaryWindow, WindowEvent, WindowResolution};
use bevy::winit::WinitPlugin;
use bevy_egui::EguiContext;
use bevy_egui::egui::WidgetRect;
use nalgebra::Point3;
use print::bed::OnBed;
use session::Session;

pub use texts::TextInWindow;

use crate::actions::{Action, Asked};
use crate::app::assemble;
use crate::stage::{LimbChunk, LimbOnStage, RawOnStage, ShellChunk, ShellOnStage, StageCamera};
use crate::state::{Bench, StageRect, View};
use texts::Texts;

/// Silences messages that come with every frame where there is no window or no graphics card.
const LOG: &str = "wgpu=error,naga=error,bevy_render=off,bevy_egui::input=off";

/// What is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DrawTo {
    /// Nothing: only the work of the processor is done.
    Nothing,
    /// The whole window, by the graphics card or a software driver, into an off-screen image.
    Image,
}

/// The workbench, frame by frame.
pub struct Trial {
    app: App,
    window: Entity,
    pointer: Vec2,
    /// What is drawn into.
    image: Option<Handle<Image>>,
}

impl Trial {
    /// Starts it.
    #[must_use]
    pub fn begin(session: Session, size: [u32; 2], drawn: DrawTo) -> Self {
        let [width, height] = size;
        let window = Window { resolution: WindowResolution::new(width, height), ..default() };
        let mut wgpu = WgpuSettings::default();
        if drawn == DrawTo::Nothing {
            wgpu.backends = None;
        }
        let mut app = App::new();
        let plugins = DefaultPlugins
            .build()
            .disable::<WinitPlugin>()
            .set(WindowPlugin { primary_window: Some(window), ..default() })
            .set(RenderPlugin { render_creation: wgpu.into(), synchronous_pipeline_compilation: true, ..default() });
        app.add_plugins(match drawn {
            // Messages would only be about drawing, and several trials in one program share one logger.
            DrawTo::Nothing => plugins.disable::<LogPlugin>(),
            DrawTo::Image => plugins.set(LogPlugin { level: Level::WARN, filter: LOG.into(), ..default() }),
        });
        assemble(&mut app, session);
        texts::read_in_every_frame(&mut app);
        // Without a screen to wait for, the next frame waits for the card to have drawn this one.
        if let Some(render) = app.get_sub_app_mut(RenderApp) {
            render.add_systems(Render, wait.in_set(RenderSystems::Cleanup));
        }
        while app.plugins_state() == PluginsState::Adding {
            bevy::tasks::tick_global_task_pools_on_main_thread();
        }
        app.finish();
        app.cleanup();
        if drawn == DrawTo::Nothing {
            // Everything on the thread that asks for the frame, so that its work can be measured apart from that of
            // others.
            for (_, schedule) in app.world_mut().resource_mut::<Schedules>().iter_mut() {
                schedule.set_executor(SingleThreadedExecutor::new());
            }
        }
        let window = app.world_mut().query_filtered::<Entity, With<PrimaryWindow>>().single(app.world());
        let window = window.unwrap_or(Entity::PLACEHOLDER);
        let mut trial = Self { app, window, pointer: Vec2::ZERO, image: None };
        trial.frame();
        if drawn == DrawTo::Image {
            trial.draw_into_image(size);
        }
        trial
    }

    fn draw_into_image(&mut self, [width, height]: [u32; 2]) {
        let mut image = Image::new_target_texture(width, height, TextureFormat::Rgba8UnormSrgb, None);
        image.texture_descriptor.usage |= TextureUsages::COPY_SRC;
        let world = self.app.world_mut();
        let handle = world.resource_mut::<Assets<Image>>().add(image);
        let cameras: Vec<Entity> = world.query_filtered::<Entity, With<Camera>>().iter(world).collect();
        self.image = Some(handle.clone());
        for camera in cameras {
            let target = ImageRenderTarget { handle: handle.clone(), scale_factor: 1.0 };
            world.entity_mut(camera).insert(RenderTarget::Image(target));
        }
    }

    /// The work of one frame; how long it took.
    pub fn frame(&mut self) -> Duration {
        let start = Instant::now();
        self.app.update();
        start.elapsed()
    }

    /// The sitting.
    pub fn session(&mut self) -> &mut Session {
        &mut self.app.world_mut().resource_mut::<Bench>().into_inner().session
    }

    /// What the window shows.
    pub fn view(&mut self) -> &mut View {
        self.app.world_mut().resource_mut::<View>().into_inner()
    }

    /// Asks for an undo.
    pub fn undo(&mut self) {
        self.app.world_mut().resource_mut::<Asked>().0.push(Action::Undo);
    }

    /// Where the stage is in the window: left, top, width and height.
    #[must_use]
    pub fn stage(&self) -> [f32; 4] {
        let rect = self.app.world().resource::<StageRect>().0;
        [rect.min.x, rect.min.y, rect.width(), rect.height()]
    }

    /// Moves the mouse to a place in the window.
    pub fn move_to(&mut self, x: f32, y: f32) {
        let to = Vec2::new(x, y);
        let moved = CursorMoved { window: self.window, position: to, delta: Some(to - self.pointer) };
        self.pointer = to;
        let world = self.app.world_mut();
        world.write_message(moved.clone());
        world.write_message(WindowEvent::CursorMoved(moved));
    }

    /// Presses or lets go of the left button.
    pub fn button(&mut self, down: bool) {
        let state = if down { ButtonState::Pressed } else { ButtonState::Released };
        let input = MouseButtonInput { button: MouseButton::Left, state, window: self.window };
        let world = self.app.world_mut();
        world.write_message(input);
        world.write_message(WindowEvent::MouseButtonInput(input));
    }

    /// Turns the wheel by this many lines, within one frame.
    pub fn wheel(&mut self, lines: f32) {
        let (unit, phase) = (MouseScrollUnit::Line, TouchPhase::Moved);
        let turned = MouseWheel { unit, x: 0.0, y: lines, window: self.window, phase };
        let world = self.app.world_mut();
        world.write_message(turned);
        world.write_message(WindowEvent::MouseWheel(turned));
        self.frame();
    }

    /// Moves the mouse to a place in the window and presses the left button there, a frame for each.
    pub fn click(&mut self, at: [f32; 2]) {
        self.drag(at, at);
    }

    /// Drags from one place in the window to another with the left button, a few frames long.
    pub fn drag(&mut self, from: [f32; 2], to: [f32; 2]) {
        self.move_to(from[0], from[1]);
        // Controls first need to notice that the mouse is over them.
        self.frame();
        self.frame();
        self.button(true);
        self.frame();
        for share in [0.3, 0.7, 1.0] {
            if from != to {
                self.move_to(from[0] + (to[0] - from[0]) * share, from[1] + (to[1] - from[1]) * share);
            }
            self.frame();
        }
        self.button(false);
        self.frame();
        self.frame();
    }

    /// Presses the left button in one place, holds it for this long by the clock, and lets it go.
    pub fn hold_button(&mut self, at: [f32; 2], time: Duration) {
        self.move_to(at[0], at[1]);
        self.frame();
        self.frame();
        self.button(true);
        self.frame();
        std::thread::sleep(time);
        self.frame();
        self.button(false);
        self.frame();
        self.frame();
    }

    /// Presses a key while others are held down, and lets all of them go.
    pub fn press(&mut self, held: &[KeyCode], code: KeyCode) {
        let all: Vec<KeyCode> = held.iter().copied().chain([code]).collect();
        all.iter().for_each(|code| self.key(*code, ButtonState::Pressed));
        self.frame();
        all.iter().rev().for_each(|code| self.key(*code, ButtonState::Released));
        self.frame();
        self.frame();
    }

    /// Holds a key down for a tenth of a second by the clock, and lets it go.
    pub fn hold(&mut self, code: KeyCode) {
        self.key(code, ButtonState::Pressed);
        self.frame();
        std::thread::sleep(Duration::from_millis(100));
        self.frame();
        self.key(code, ButtonState::Released);
        self.frame();
    }

    fn key(&mut self, code: KeyCode, state: ButtonState) {
        let logical_key = Key::Unidentified(NativeKey::Unidentified);
        let input =
            KeyboardInput { key_code: code, logical_key, state, text: None, repeat: false, window: self.window };
        let world = self.app.world_mut();
        world.write_message(input.clone());
        world.write_message(WindowEvent::KeyboardInput(input));
    }

    /// Where a place on the limb, mm, is seen in the window, as Bevy projects it; none behind the camera.
    pub fn seen(&mut self, place: &Point3<f32>) -> Option<[f32; 2]> {
        let world = self.app.world_mut();
        let (camera, transform) =
            world.query_filtered::<(&Camera, &Transform), With<StageCamera>>().single(world).ok()?;
        let place = Vec3::from_array(place.coords.into());
        camera.world_to_viewport(&GlobalTransform::from(*transform), place).ok().map(|at| at.to_array())
    }

    /// Where the camera stands, mm.
    pub fn eye(&mut self) -> Option<Point3<f32>> {
        let world = self.app.world_mut();
        let place = world.query_filtered::<&Transform, With<StageCamera>>().single(world).ok()?;
        Some(Point3::from(place.translation.to_array()))
    }

    /// Whether any of the limb is in sight.
    pub fn sees_limb(&mut self) -> bool {
        let world = self.app.world_mut();
        let mut parts = world.query_filtered::<&Visibility, With<LimbChunk>>();
        parts.iter(world).any(|visibility| *visibility != Visibility::Hidden)
    }

    /// What the line below says, while it is fresh.
    #[must_use]
    pub fn said(&self) -> Option<&str> {
        self.app.world().resource::<Bench>().fresh().map(|said| said.sentence.as_str())
    }

    /// The texts that panels and windows drew in the last frame.
    #[must_use]
    pub fn texts(&self) -> &[TextInWindow] {
        &self.app.world().resource::<Texts>().0
    }

    /// Where in the window something can be pressed, dragged or typed into: left, top, right, bottom of each.
    pub fn controls(&mut self) -> Vec<[f32; 4]> {
        let world = self.app.world_mut();
        let mut contexts = world.query::<&mut EguiContext>();
        let of = |mut context: Mut<EguiContext>| {
            let context = context.get_mut();
            let scale = context.zoom_factor();
            context.viewport(|viewport| {
                let widgets = &viewport.prev_pass.widgets;
                let all = widgets.layer_ids().flat_map(|layer| widgets.get_layer(layer)).copied().collect::<Vec<_>>();
                let pressed = all.into_iter().filter(|widget| widget.enabled && widget.sense.interactive());
                let rect = |widget: WidgetRect| widget.rect;
                pressed.map(rect).map(|r| [r.left(), r.top(), r.right(), r.bottom()].map(|side| side * scale)).collect()
            })
        };
        contexts.iter_mut(world).flat_map(|context| -> Vec<[f32; 4]> { of(context) }).collect()
    }

    /// Whether the window would draw again at once without any input.
    pub fn wants_another_frame(&mut self) -> bool {
        let world = self.app.world_mut();
        let mut contexts = world.query::<&mut EguiContext>();
        contexts.iter_mut(world).any(|mut context| context.get_mut().has_requested_repaint())
    }

    /// How the shell lies on the printer's bed, at the print step.
    #[must_use]
    pub fn on_bed(&self) -> Option<OnBed> {
        self.app.world().resource::<View>().print.laid
    }

    /// Turns the limb by an angle, radians.
    pub fn turn(&mut self, by: f32) {
        let world = self.app.world_mut();
        if let Ok(mut camera) = world.query::<&mut StageCamera>().single_mut(world) {
            camera.around += by;
        }
    }

    /// Whether the raw scan or the limb stands on the stage.
    #[must_use]
    pub fn shows_scan(&self) -> bool {
        self.app.world().resource::<RawOnStage>().is_shown() || self.shows_limb()
    }

    /// Whether the whole limb stands on the stage.
    #[must_use]
    pub fn shows_limb(&self) -> bool {
        self.app.world().resource::<LimbOnStage>().is_whole()
    }

    /// Whether a shell stands on the stage.
    #[must_use]
    pub fn shows_shell(&self) -> bool {
        self.app.world().resource::<ShellOnStage>().is_shown()
    }

    /// The colours of the plastic of the shell on the stage, red, green and blue of sRGB, 0 to 255.
    pub fn shell_colours(&mut self) -> Vec<[u8; 3]> {
        let world = self.app.world_mut();
        let mut parts = world.query_filtered::<&MeshMaterial3d<StandardMaterial>, With<ShellChunk>>();
        let materials = world.resource::<Assets<StandardMaterial>>();
        let coats = parts.iter(world).filter_map(|coat| materials.get(&coat.0));
        coats.map(|coat| coat.base_color.to_srgba().to_u8_array_no_alpha()).collect()
    }

    /// Saves what is drawn.
    ///
    /// # Errors
    /// Nothing is drawn, or the picture cannot be saved.
    pub fn save_picture(&mut self, path: &Path) -> Result<(), String> {
        let image = self.image.clone().ok_or("nothing is drawn")?;
        let taken: Arc<Mutex<Option<Result<(), String>>>> = Arc::default();
        let (told, path) = (Arc::clone(&taken), path.to_owned());
        let save = move |captured: On<ScreenshotCaptured>| {
            let saved = captured.image.clone().try_into_dynamic().map_err(|e| e.to_string());
            let saved = saved.and_then(|image| image.to_rgb8().save(&path).map_err(|e| e.to_string()));
            *told.lock().unwrap_or_else(PoisonError::into_inner) = Some(saved);
        };
        self.app.world_mut().spawn(Screenshot::image(image)).observe(save);
        for _ in 0..60 {
            self.frame();
            if let Some(saved) = taken.lock().unwrap_or_else(PoisonError::into_inner).take() {
                return saved;
            }
        }
        Err("no picture came back".to_owned())
    }

    /// The graphics card that draws, in words; none if nothing is drawn.
    #[must_use]
    pub fn adapter(&self) -> Option<String> {
        let info = self.app.world().get_resource::<RenderAdapterInfo>()?;
        Some(format!("{} ({:?}, {})", info.name, info.backend, info.driver_info))
    }
}

fn wait(device: Res<RenderDevice>) {
    // An error means that the card was lost, which the next frames report.
    let _ = device.poll(PollType::wait_indefinitely());
}
