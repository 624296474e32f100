//! The camera, which turns round the limb and takes its lights along.

use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::ecs::system::SystemParam;
use bevy::input::mouse::AccumulatedMouseScroll;
use bevy::prelude::*;
use bevy::render::renderer::RenderAdapterInfo;
use bevy_egui::input::EguiWantsInput;
use nalgebra::Point3;

use super::Pointer;
use super::limb::LimbOnStage;
use crate::graphics::DrawnBy;
use crate::state::{Bench, StageRect, Step, Tool, View};

/// Vertical field of view, radians.
const FIELD_OF_VIEW: f32 = 0.5;
/// Share of the stage that the limb fills at first.
const FILLED: f32 = 0.9;
/// Nearest and farthest that the camera goes, mm.
const NEAREST_MM: f32 = 40.0;
const FARTHEST_MM: f32 = 3000.0;
/// Elevation, up or down, beyond which the limb is seen end on and hardly at all through its open ends, radians.
const STEEPEST: f32 = 0.8;
/// About how many points of a limb are used to bring it into sight.
const LOOKED_AT: usize = 5000;

/// A sample of the points of a mesh, all over it.
pub fn some(mesh: &mesh::Mesh) -> impl Iterator<Item = &Point3<f32>> {
    mesh.points.iter().step_by(mesh.points.len() / LOOKED_AT + 1)
}

/// The camera of the stage, as it is turned round the limb.
#[derive(Component, Debug, Clone, PartialEq)]
pub struct StageCamera {
    /// The point that it looks at, mm.
    pub middle: Vec3,
    /// Azimuth, the turn round z, radians.
    pub around: f32,
    /// Elevation, radians.
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
    /// Brings points with these bounds into sight, on a stage `aspect` times as wide as high, at any azimuth.
    pub fn look_at<'a>(
        &mut self,
        (low, high): (Point3<f32>, Point3<f32>),
        points: impl Iterator<Item = &'a Point3<f32>>,
        aspect: f32,
    ) {
        let middle = nalgebra::center(&low, &high);
        let (sin, cos) = self.up.sin_cos();
        let half = FILLED * (0.5 * FIELD_OF_VIEW).tan();
        // A point x nearer to the camera and y away from the line of sight is seen at y / (d − x), so the distance d
        // must be at least x + y / half for every point.
        let away = |p: &Point3<f32>| {
            let p = p - middle;
            let round = p.xy().norm();
            let at = |nearer: f32| nearer * cos + p.z * sin + (p.z * cos - nearer * sin).abs() / half;
            at(round).max(at(-round)).max(p.z * sin + round * cos.hypot(1.0 / (half * aspect)))
        };
        self.middle = Vec3::from_array(middle.coords.into());
        self.distance = points.map(away).fold(NEAREST_MM, f32::max);
    }

    /// Its place and direction.
    pub fn transform(&self) -> Transform {
        let (sin, cos) = self.up.sin_cos();
        let away = Vec3::new(self.around.cos() * cos, self.around.sin() * cos, sin);
        Transform::from_translation(self.middle + away * self.distance).looking_at(self.middle, Vec3::Z)
    }
}

/// The camera as the user left it, and as a step has set it since.
#[derive(Default)]
pub struct SetAside(Option<[StageCamera; 2]>);

impl SetAside {
    /// Lets a step set the camera; where the user had it is kept for later.
    pub fn set(&mut self, camera: &mut StageCamera, change: impl FnOnce(&mut StageCamera)) {
        let kept = self.0.take().filter(|[_, set]| set == camera).map(|[hand, _]| hand);
        let hand = kept.unwrap_or_else(|| camera.clone());
        change(camera);
        self.0 = Some([hand, camera.clone()]);
    }

    /// Restores the camera as the user left it, unless the user has moved it since.
    pub fn give_back(&mut self, camera: &mut StageCamera) {
        if let Some([hand, set]) = self.0.take()
            && set == *camera
        {
            *camera = hand;
        }
    }
}

/// Sets up camera and lights.
pub fn light(mut commands: Commands, drawn_by: Option<Res<RenderAdapterInfo>>) {
    // Where the processor draws, smooth edges would cost more than all the rest.
    let drawn_by = drawn_by.map(|by| DrawnBy::of(by.device_type));
    let msaa = if drawn_by == Some(DrawnBy::Processor) { Msaa::Off } else { Msaa::Sample4 };
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
            // Keeps colours about as chosen: on faces towards the camera, the lights below add up to nearly white.
            Tonemapping::None,
            camera,
            transform,
            Projection::Perspective(lens),
            AmbientLight { brightness: 370.0, ..default() },
            msaa,
        ))
        .with_children(|camera| {
            camera.spawn(sun(-0.9, 1.1, 3100.0));
            camera.spawn(sun(1.4, -0.2, 880.0));
        });
}

/// Brings a new limb into sight, and the current one when asked: whole, and from the side if it was seen end on.
pub fn bring_into_sight(
    bench: Res<Bench>,
    mut view: ResMut<View>,
    limb: Res<LimbOnStage>,
    stage: Res<StageRect>,
    mut camera: Single<&mut StageCamera>,
) {
    let asked = std::mem::take(&mut view.bypass_change_detection().see_all);
    if (limb.came || asked)
        && let Some(limb) = bench.session.derived().limb.value()
        && let Some(bounds) = limb.skin.bounds()
    {
        if camera.up.abs() > STEEPEST {
            camera.up = StageCamera::default().up;
        }
        camera.look_at(bounds, some(limb.skin.mesh()), stage.aspect());
    }
}

/// The mouse, and the keys that are held down with it.
#[derive(SystemParam)]
pub struct Mouse<'w> {
    keys: Res<'w, ButtonInput<KeyCode>>,
    scroll: Res<'w, AccumulatedMouseScroll>,
}

/// Turns and moves the camera by mouse.
pub fn turn_by_mouse(
    mouse: Mouse,
    wants: Res<EguiWantsInput>,
    view: Res<View>,
    pointer: Res<Pointer>,
    camera: Single<(&mut StageCamera, &Transform)>,
) {
    if wants.wants_any_pointer_input() {
        return;
    }
    let (mut camera, transform) = camera.into_inner();
    let turned = pointer.turned;
    if turned != Vec2::ZERO {
        camera.around -= 0.008 * turned.x;
        camera.up = (camera.up + 0.008 * turned.y).clamp(-1.5, 1.5);
    }
    let shifted = pointer.shifted;
    if shifted != Vec2::ZERO {
        let reach = 0.0011 * camera.distance;
        camera.middle += transform.right() * (-shifted.x * reach) + transform.up() * (shifted.y * reach);
    }
    let brush = view.step == Step::Zone && matches!(view.tool, Tool::Paint | Tool::Erase);
    // In a slow frame the pointer may have moved onto a panel since egui said what it wants.
    let over_stage = pointer.at.is_some();
    if over_stage && (!brush || mouse.keys.any_pressed([KeyCode::AltLeft, KeyCode::AltRight])) {
        camera.distance = (camera.distance * (-0.1 * mouse.scroll.delta.y).exp()).clamp(NEAREST_MM, FARTHEST_MM);
    }
}

/// Turns and moves the camera by keys that are held down.
pub fn turn_by_keys(
    keys: Res<ButtonInput<KeyCode>>,
    wants: Res<EguiWantsInput>,
    time: Res<Time>,
    mut camera: Single<&mut StageCamera>,
) {
    // With control or command held these keys are actions.
    let command = [KeyCode::ControlLeft, KeyCode::ControlRight, KeyCode::SuperLeft, KeyCode::SuperRight];
    if wants.wants_any_keyboard_input() || keys.any_pressed(command) {
        return;
    }
    let step = 1.6 * time.delta_secs();
    let held = |less: KeyCode, more: KeyCode| f32::from(keys.pressed(more)) - f32::from(keys.pressed(less));
    let turned = StageCamera {
        around: camera.around + step * held(KeyCode::ArrowLeft, KeyCode::ArrowRight),
        up: (camera.up + step * held(KeyCode::ArrowDown, KeyCode::ArrowUp)).clamp(-1.5, 1.5),
        distance: (camera.distance * (step * held(KeyCode::Equal, KeyCode::Minus)).exp())
            .clamp(NEAREST_MM, FARTHEST_MM),
        ..**camera
    };
    camera.set_if_neq(turned);
}

/// Moves the camera to where it should stand.
pub fn stand(camera: Single<(&StageCamera, &mut Transform)>) {
    let (camera, mut transform) = camera.into_inner();
    transform.set_if_neq(camera.transform());
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The corners of a box, projected from every side, stay inside the stage, and the outermost comes near its edge.
    #[test]
    fn what_is_looked_at_fills_the_stage_from_every_side() {
        for (size, aspect) in
            [([90.0_f32, 120.0, 350.0], 1.4_f32), ([300.0, 200.0, 80.0], 1.4), ([60.0, 60.0, 300.0], 0.4)]
        {
            let corner = |i: usize| {
                Point3::from([0, 1, 2].map(|k| if i & (1 << k) == 0 { -0.5 * size[k] } else { 0.5 * size[k] }))
            };
            let corners: Vec<Point3<f32>> = (0..8).map(corner).collect();
            let mut camera = StageCamera::default();
            camera.look_at((corners[0], corners[7]), corners.iter(), aspect);
            let lens = Mat4::perspective_infinite_reverse_rh(FIELD_OF_VIEW, aspect, 5.0);
            let mut farthest = 0.0_f32;
            for turn in 0..90_u8 {
                camera.around = f32::from(turn) / 90.0 * std::f32::consts::TAU;
                let clip = lens * camera.transform().to_matrix().inverse();
                for p in &corners {
                    let seen = clip.project_point3(Vec3::from_array(p.coords.into()));
                    farthest = farthest.max(seen.x.abs()).max(seen.y.abs());
                }
            }
            assert!(farthest > 0.85 && farthest < 0.93, "{size:?} {aspect}: {farthest}");
        }
    }
}
