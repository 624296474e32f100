//! Where the pointer meets the limb.

use bevy::input::mouse::AccumulatedMouseMotion;
use bevy::prelude::*;
use bevy::window::PrimaryWindow;
use bevy_egui::input::EguiWantsInput;
use mesh::Hit;
use nalgebra::{Point3, Vector3};

use super::StageCamera;
use crate::bench::Bench;
use crate::layout::StageRect;

/// Farther than any limb is looked at from, mm.
const FARTHEST_MM: f32 = 20_000.0;

/// The pointer on the stage.
#[derive(Resource, Default)]
pub struct Pointer {
    /// The skin under it.
    pub hit: Option<Hit>,
    /// Where it is in the window; none over a panel.
    pub at: Option<Vec2>,
    /// The left button went down beside the limb: it turns the limb until it is let go.
    pub turning: bool,
    /// The left button went down on the limb and is still held, or the space bar is.
    pub pressed: bool,
    /// It has just been pressed.
    pub just_pressed: bool,
    /// The space bar works in the middle of the stage until the mouse is moved.
    pub by_keys: bool,
    /// Millimetres in one unit of the window at the distance of the limb.
    pub unit_mm: f32,
}

/// Finds where the pointer meets the limb.
pub fn find(
    mut pointer: ResMut<Pointer>,
    bench: Res<Bench>,
    stage: Res<StageRect>,
    wants: Res<EguiWantsInput>,
    buttons: Res<ButtonInput<MouseButton>>,
    keys: Res<ButtonInput<KeyCode>>,
    motion: Res<AccumulatedMouseMotion>,
    window: Single<&Window, With<PrimaryWindow>>,
    camera: Single<(&Camera, &Transform, &StageCamera)>,
) {
    let (camera, transform, place) = camera.into_inner();
    let keys_free = !wants.wants_any_keyboard_input();
    let turned = [KeyCode::ArrowLeft, KeyCode::ArrowRight, KeyCode::ArrowUp, KeyCode::ArrowDown];
    if keys_free && (keys.pressed(KeyCode::Space) || keys.any_pressed(turned)) {
        pointer.by_keys = true;
    } else if motion.delta != Vec2::ZERO {
        pointer.by_keys = false;
    }
    pointer.unit_mm = 2.0 * 0.25_f32.tan() * place.distance / stage.0.height().max(1.0);
    pointer.at = if pointer.by_keys {
        Some(stage.0.center())
    } else {
        window
            .cursor_position()
            .filter(|at| stage.0.contains(*at) && (!wants.wants_any_pointer_input() || pointer.pressed))
    };
    let ray = pointer.at.and_then(|at| camera.viewport_to_world(&GlobalTransform::from(*transform), at).ok());
    pointer.hit = ray.zip(bench.session.derived().limb.value()).and_then(|(ray, limb)| {
        let way = Vector3::from(ray.direction.to_array());
        limb.skin.ray(&Point3::from(ray.origin.to_array()), &way, FARTHEST_MM)
    });
    let pressed = |left: bool, space: bool| left || (space && keys_free);
    let now = pressed(buttons.just_pressed(MouseButton::Left), keys.just_pressed(KeyCode::Space));
    pointer.just_pressed = now && pointer.hit.is_some() && pointer.at.is_some();
    if now && pointer.at.is_some() {
        pointer.pressed = pointer.hit.is_some();
        pointer.turning = pointer.hit.is_none() && !pointer.by_keys;
    }
    if !pressed(buttons.pressed(MouseButton::Left), keys.pressed(KeyCode::Space)) {
        pointer.pressed = false;
        pointer.turning = false;
    }
}
