//! The material step on the stage: a press on the guard that does not turn it strikes it there.

use bevy::prelude::*;
use nalgebra::{Point3, Vector3};

use super::StageCamera;
use super::pointer::{Did, Pointer};
use crate::commands::material::strike;
use crate::state::{Bench, SIGHT_MM, Step, View};

/// A press that moves no further than this, in units of the window, turns nothing.
const STILL: f32 = 4.0;

/// Strikes the guard where it is pressed.
pub fn press(
    pointer: Res<Pointer>,
    mut bench: ResMut<Bench>,
    mut view: ResMut<View>,
    camera: Single<(&Camera, &Transform), With<StageCamera>>,
) {
    let is_here = view.step == Step::Material;
    let pressed_at = &mut view.bypass_change_detection().material.pressed_at;
    for did in &pointer.did {
        match did {
            Did::Press(at, _) => *pressed_at = Some(*at),
            Did::Pass(_) if pointer.at.zip(*pressed_at).is_some_and(|(now, at)| now.distance(at) > STILL) => {
                *pressed_at = None;
            }
            Did::Pass(_) => {}
            Did::LetGo => {
                let Some(at) = pressed_at.take() else { continue };
                if pointer.at.is_some_and(|now| now.distance(at) <= STILL) && is_here {
                    let (lens, place) = *camera;
                    let Ok(ray) = lens.viewport_to_world(&GlobalTransform::from(*place), at) else { return };
                    let from = Point3::from(ray.origin.to_array());
                    let surface = bench.session.derived().strength.surface.value();
                    let way = Vector3::from(ray.direction.to_array());
                    if let Some(met) = surface.and_then(|surface| surface.met(&from, &way, SIGHT_MM)) {
                        strike(&mut bench, met);
                    }
                    return;
                }
            }
        }
    }
}
