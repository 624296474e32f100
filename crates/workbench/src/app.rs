//! Puts the window together.

use std::path::PathBuf;
use std::process::ExitCode;

use bevy::asset::AssetEventSystems;
use bevy::camera::visibility::RenderLayers;
use bevy::camera::{CameraOutputMode, ClearColorConfig};
use bevy::log::{Level, LogPlugin};
use bevy::prelude::*;
use bevy::render::render_resource::BlendState;
use bevy::window::WindowResolution;
use bevy::winit::WinitSettings;
use bevy_egui::{
    EguiGlobalSettings, EguiInputSet, EguiPlugin, EguiPostUpdateSet, EguiPreUpdateSet, EguiPrimaryContextPass,
    PrimaryEguiContext,
};
use scan::{BodySite, Side};
use session::{Places, Session};

use crate::actions::{Asked, from_keys};
use crate::commands::{files, notes, perform};
use crate::graphics::DrawnBy;
use crate::keyboard;
use crate::layout::{clear_colour, draw, fit_stage};
use crate::pictures::{Taken, Tour, lead};
use crate::report::{self, Report};
use crate::stage::StagePlugin;
use crate::state::{Bench, StageRect, Typing, View};

/// Graphics libraries log errors only: their warnings mean nothing to a user.
const LOG: &str = "wgpu=error,naga=error,bevy_render::renderer=error";

/// How the program was started.
#[derive(Debug, Clone)]
pub struct Launch {
    /// A scan or design to open.
    pub file: Option<PathBuf>,
    /// Folder for pictures of every step.
    pub screenshot: Option<PathBuf>,
    /// Panels are opened out for these pictures.
    pub opened_out: bool,
    /// File for what the window is doing.
    pub report: Option<PathBuf>,
    /// Size of the window.
    pub size: [u32; 2],
    /// Folder for settings and unsaved work.
    pub home: Option<PathBuf>,
}

/// Runs the workbench until its window is closed.
#[must_use]
pub fn run(start: Launch) -> ExitCode {
    // Pictures show the program with its default settings, not the user's.
    let own_home = start
        .screenshot
        .as_ref()
        .map(|_| std::env::temp_dir().join(format!("pauldron-pictures-{}", std::process::id())));
    if let Some(folder) = &start.screenshot
        && let Err(error) = std::fs::create_dir_all(folder)
    {
        return refuse(&format!("{} cannot be made: {error}", folder.display()));
    }
    let home = start.home.as_deref().or(own_home.as_deref());
    let places = home.map_or_else(Places::usual, Places::inside);
    match crate::graphics::check() {
        Err(sentence) => return refuse(sentence),
        Ok(DrawnBy::Card) => session::lower_worker_priority(),
        Ok(DrawnBy::Processor) => {}
    }
    let mut session = match Session::begin(places) {
        Ok(session) => session,
        Err(problem) => return refuse(&problem.sentence),
    };
    if let Some(file) = &start.file {
        session.open(file, BodySite::Other, Side::Unknown);
    }
    let [width, height] = start.size;
    let window = Window {
        title: "Pauldron".into(),
        name: Some("pauldron".into()),
        resolution: WindowResolution::new(width, height),
        ..default()
    };
    let mut app = App::new();
    app.add_plugins(
        DefaultPlugins
            .set(WindowPlugin { primary_window: Some(window), close_when_requested: false, ..default() })
            .set(LogPlugin { level: Level::WARN, filter: LOG.into(), ..default() }),
    );
    assemble(&mut app, session);
    if let Some(folder) = start.screenshot {
        if start.file.is_none() {
            app.add_systems(Startup, files::open_demo);
        }
        app.insert_resource(Tour::new(folder, start.opened_out)).init_resource::<Taken>().add_systems(Update, lead);
    }
    app.world_mut().resource_mut::<Bench>().files.shows_folders = true;
    if let Some(path) = start.report {
        app.insert_resource(Report::new(path)).add_systems(Last, report::write);
    }
    let exit = app.run();
    if let Some(home) = own_home {
        // Only settings and scans that the demo put there.
        let _ = std::fs::remove_dir_all(home);
    }
    match exit {
        AppExit::Success => ExitCode::SUCCESS,
        AppExit::Error(code) => ExitCode::from(code.get()),
    }
}

/// Adds everything of the workbench's own to an app that has Bevy's default plugins.
pub(crate) fn assemble(app: &mut App, session: Session) {
    app.add_plugins((EguiPlugin::default(), StagePlugin))
        .init_resource::<WinitSettings>()
        .insert_resource(Bench::new(session))
        .init_resource::<View>()
        .init_resource::<Asked>()
        .init_resource::<Typing>()
        .init_resource::<crate::pace::Pace>()
        .init_resource::<StageRect>()
        .add_systems(PreStartup, set_up)
        .add_systems(PreUpdate, (notes::pick_up, files::pick_up).chain())
        .add_systems(
            PreUpdate,
            (
                keyboard::tell.in_set(EguiInputSet::ReadBevyMessages),
                keyboard::tell_once.after(EguiPreUpdateSet::ProcessInput).before(EguiPreUpdateSet::BeginPass),
            ),
        )
        .add_systems(EguiPrimaryContextPass, draw)
        .add_systems(Update, (from_keys, perform).chain())
        .add_systems(PostUpdate, (fit_stage, clear_colour, crate::pace::keep))
        // New glyphs are sent to the graphics card in the frame that needs them, not in the next one.
        .configure_sets(PostUpdate, EguiPostUpdateSet::PostProcessOutput.before(AssetEventSystems));
}

#[allow(clippy::print_stderr)]
fn refuse(sentence: &str) -> ExitCode {
    eprintln!("{sentence}");
    // A program started by its icon has no terminal in which this would be read.
    if cfg!(any(windows, target_os = "macos")) {
        rfd::MessageDialog::new()
            .set_level(rfd::MessageLevel::Error)
            .set_title("Pauldron")
            .set_description(sentence)
            .show();
    }
    ExitCode::FAILURE
}

/// The camera of the panels, drawn over the stage.
fn set_up(mut commands: Commands, mut settings: ResMut<EguiGlobalSettings>) {
    settings.auto_create_primary_context = false;
    commands.spawn((
        PrimaryEguiContext,
        keyboard::settings(),
        Camera2d,
        // egui smooths the edges of panels itself.
        Msaa::Off,
        RenderLayers::none(),
        Camera {
            order: 1,
            output_mode: CameraOutputMode::Write {
                blend_state: Some(BlendState::ALPHA_BLENDING),
                clear_color: ClearColorConfig::None,
            },
            clear_color: ClearColorConfig::Custom(Color::NONE),
            ..default()
        },
    ));
}
