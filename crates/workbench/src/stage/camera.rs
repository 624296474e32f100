//! The camera: turns round the limb, its light with it.

use bevy::input::mouse::{AccumulatedMouseMotion, AccumulatedMouseScroll};
use bevy::prelude::*;
use bevy_egui::input::EguiWantsInput;

use super::Pointer;
use super::limb::LimbOnStage;
use crate::bench::Bench;
use crate::step::Step;
use crate::view::{Tool, View};

/// From top to bottom, radians.
const FIELD_OF_VIEW: f32 = 0.5;

/// The camera of the stage, and how it looks at the limb.
#[derive(Component, Debug, Clone)]
pub struct StageCamera {
    /// What it looks at.
    pub middle: Vec3,
    /// Turn round z, radians.
    pub around: f32,
    /// Rise above the level, radians.
    pub up: f32,
    /// Distance, mm.
    pub distance: f32,
}

impl Default for StageCamera {
    fn default() -> Self {
        Self { middle: Vec3::ZERO, around: -1.1, up: 0.25, distance: 600.0 }
    }
}

impl StageCamera {
    /// Brings a box into sight.
    pub fn look_at(&mut self, low: Vec3, high: Vec3) {
        self.middle = 0.5 * (low + high);
        self.distance = 1.25 * (high - low).length() / (2.0 * (0.5 * FIELD_OF_VIEW).tan());
    }

    /// Where it stands and looks.
    pub fn transform(&self) -> Transform {
        let (sin, cos) = self.up.sin_cos();
        let away = Vec3::new(self.around.cos() * cos, self.around.sin() * cos, sin);
        Transform::from_translation(self.middle + away * self.distance).looking_at(self.middle, Vec3::Z)
    }
}

/// Sets up camera and lights.
pub fn light(mut commands: Commands) {
    let camera = StageCamera::default();
    let transform = camera.transform();
    let lens = PerspectiveProjection { fov: FIELD_OF_VIEW, near: 5.0, far: 6000.0, ..default() };
    let sun = |x: f32, y: f32, lux: f32| {
        let light = DirectionalLight { illuminance: lux, shadow_maps_enabled: false, ..default() };
        // In the camera's own frame: x to the right, y up, looking along −z.
        (light, Transform::from_xyz(x, y, 1.0).looking_at(Vec3::ZERO, Vec3::Y))
    };
    commands
        .spawn((
            Camera3d::default(),
            camera,
            transform,
            Projection::Perspective(lens),
            AmbientLight { brightness: 420.0, ..default() },
            Msaa::Sample4,
        ))
        .with_children(|camera| {
            camera.spawn(sun(-0.9, 1.1, 3400.0));
            camera.spawn(sun(1.4, -0.2, 900.0));
        });
}

/// Turns and moves the camera by mouse and keys, and brings a new limb into sight.
#[allow(clippy::too_many_arguments)]
pub fn turn(
    buttons: Res<ButtonInput<MouseButton>>,
    keys: Res<ButtonInput<KeyCode>>,
    motion: Res<AccumulatedMouseMotion>,
    scroll: Res<AccumulatedMouseScroll>,
    wants: Res<EguiWantsInput>,
    view: Res<View>,
    bench: Res<Bench>,
    limb: Res<LimbOnStage>,
    pointer: Res<Pointer>,
    time: Res<Time>,
    camera: Single<(&mut StageCamera, &mut Transform)>,
) {
    let (mut camera, mut transform) = camera.into_inner();
    if limb.came
        && let Some((low, high)) = bench.session.derived().limb.value().and_then(|limb| limb.skin.bounds())
    {
        camera.look_at(Vec3::from_array(low.coords.into()), Vec3::from_array(high.coords.into()));
    }
    if !wants.wants_any_pointer_input() {
        // In the zone step the left button marks the limb, and turns it only from beside it.
        let looks = view.step != Step::Zone || view.tool == Tool::Look;
        let free_left = buttons.pressed(MouseButton::Left) && (looks || pointer.turning);
        if buttons.pressed(MouseButton::Right) || free_left {
            camera.around -= 0.008 * motion.delta.x;
            camera.up = (camera.up + 0.008 * motion.delta.y).clamp(-1.5, 1.5);
        }
        if buttons.pressed(MouseButton::Middle) {
            let reach = 0.0011 * camera.distance;
            let shift = transform.right() * (-motion.delta.x * reach) + transform.up() * (motion.delta.y * reach);
            camera.middle += shift;
        }
        let brush = view.step == Step::Zone && matches!(view.tool, Tool::Paint | Tool::Erase);
        // In a slow frame the pointer may have come to a panel since it was asked what egui wants.
        let over_stage = pointer.at.is_some();
        if over_stage && (!brush || keys.any_pressed([KeyCode::AltLeft, KeyCode::AltRight])) {
            camera.distance = (camera.distance * (-0.1 * scroll.delta.y).exp()).clamp(40.0, 3000.0);
        }
    }
    // With control or command held these keys are actions.
    let command = [KeyCode::ControlLeft, KeyCode::ControlRight, KeyCode::SuperLeft, KeyCode::SuperRight];
    if !wants.wants_any_keyboard_input() && !keys.any_pressed(command) {
        let step = 1.6 * time.delta_secs();
        let held = |less: KeyCode, more: KeyCode| f32::from(keys.pressed(more)) - f32::from(keys.pressed(less));
        camera.around += step * held(KeyCode::ArrowLeft, KeyCode::ArrowRight);
        camera.up = (camera.up + step * held(KeyCode::ArrowDown, KeyCode::ArrowUp)).clamp(-1.5, 1.5);
        camera.distance = (camera.distance * (step * held(KeyCode::Equal, KeyCode::Minus)).exp()).clamp(40.0, 3000.0);
    }
    let wanted = camera.transform();
    if *transform != wanted {
        *transform = wanted;
    }
}
