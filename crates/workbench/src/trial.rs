//! The workbench without a window, led by a program: for benches, and to draw the stage where there is no screen.
//!
//! Every system of the window runs in it as it does there, over the same messages of mouse and keys.

use std::time::{Duration, Instant};

use bevy::app::PluginsState;
use bevy::camera::{ImageRenderTarget, RenderTarget};
use bevy::input::ButtonState;
use bevy::input::mouse::MouseButtonInput;
use bevy::log::{Level, LogPlugin};
use bevy::prelude::*;
use bevy::render::render_resource::{PollType, TextureFormat, TextureUsages};
use bevy::render::renderer::{RenderAdapterInfo, RenderDevice};
use bevy::render::settings::WgpuSettings;
use bevy::render::{Render, RenderApp, RenderPlugin, RenderSystems};
use bevy::window::{PrimaryWindow, WindowEvent, WindowResolution};
use bevy::winit::WinitPlugin;
use session::Session;

use crate::actions::{Action, Asked};
use crate::app::assemble;
use crate::bench::Bench;
use crate::layout::StageRect;
use crate::stage::{LimbOnStage, RawOnStage, ShellOnStage, StageCamera};
use crate::view::View;

/// Said at every frame without a window, or without a graphics card, and meant for programs that should have one.
const LOG: &str = "wgpu=error,naga=error,bevy_render=off,bevy_egui::input=off";

/// What is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Drawn {
    /// Nothing: only the work of the processor is done.
    Nothing,
    /// The whole window, by the graphics card or what stands in for it, into an image that nobody sees.
    Image,
}

/// The workbench, frame by frame.
pub struct Trial {
    app: App,
    window: Entity,
    pointer: Vec2,
}

impl Trial {
    /// Starts it.
    #[must_use]
    pub fn begin(mut session: Session, size: [u32; 2], drawn: Drawn) -> Self {
        session.preferences.demo_seen = true;
        let [width, height] = size;
        let window = Window { resolution: WindowResolution::new(width, height), ..default() };
        let mut wgpu = WgpuSettings::default();
        if drawn == Drawn::Nothing {
            wgpu.backends = None;
        }
        let mut app = App::new();
        app.add_plugins(
            DefaultPlugins
                .build()
                .disable::<WinitPlugin>()
                .set(WindowPlugin { primary_window: Some(window), ..default() })
                .set(RenderPlugin { render_creation: wgpu.into(), synchronous_pipeline_compilation: true, ..default() })
                .set(LogPlugin { level: Level::WARN, filter: LOG.into(), ..default() }),
        );
        assemble(&mut app, session);
        // Without a screen to wait for, the next frame waits for the card to have drawn this one.
        if let Some(render) = app.get_sub_app_mut(RenderApp) {
            render.add_systems(Render, wait.in_set(RenderSystems::Cleanup));
        }
        while app.plugins_state() == PluginsState::Adding {
            bevy::tasks::tick_global_task_pools_on_main_thread();
        }
        app.finish();
        app.cleanup();
        let window = app.world_mut().query_filtered::<Entity, With<PrimaryWindow>>().single(app.world());
        let window = window.unwrap_or(Entity::PLACEHOLDER);
        let mut trial = Self { app, window, pointer: Vec2::ZERO };
        trial.frame();
        if drawn == Drawn::Image {
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

    /// How it is seen.
    pub fn view(&mut self) -> &mut View {
        self.app.world_mut().resource_mut::<View>().into_inner()
    }

    /// Asks for what undo and redo do.
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

    /// Turns the limb by an angle, radians.
    pub fn turn(&mut self, by: f32) {
        let world = self.app.world_mut();
        if let Ok(mut camera) = world.query::<&mut StageCamera>().single_mut(world) {
            camera.around += by;
        }
    }

    /// Whether a picture of the scan as it came, or of the limb, stands on the stage.
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

    /// The graphics card that draws, in words; none where nothing does.
    #[must_use]
    pub fn adapter(&self) -> Option<String> {
        let info = self.app.world().get_resource::<RenderAdapterInfo>()?;
        Some(format!("{} ({:?}, {})", info.name, info.backend, info.driver_info))
    }
}

fn wait(device: Res<RenderDevice>) {
    // Where the card has gone, the frames that follow tell.
    let _ = device.poll(PollType::wait_indefinitely());
}
