//! The guard dressed for the athlete: colour, finish, a picture or pattern on its outer face, a slow turn.

mod canvas;
mod parts;

use std::sync::Arc;

use bevy::prelude::*;
use bevy::winit::{UpdateMode, WinitSettings};
use engine::dress::{Faces, outer_faces, paint, wrap};
use locker::{Finish, Look};
use session::{Outcome, Task};
use shell::Shell;

use super::camera::StageCamera;
use super::limb::LimbPart;
use super::shell::ShellOnStage;
use crate::bench::Bench;
use crate::step::Step;
use crate::view::View;

pub use canvas::LONGEST;

/// Speed of the slow turn, radians a second.
const TURN: f32 = 0.45;

/// How the guard is shown; nothing of it is saved with the design.
#[derive(Debug, Clone, Default)]
pub struct ShowView {
    /// Without the limb.
    pub alone: bool,
    /// Turns slowly.
    pub turning: bool,
    /// The panels are put away.
    pub clean: bool,
    /// The side that is looked at, as a turn about the limb's z axis from x, degrees.
    pub front_deg: f32,
    /// How far above it is looked at from, degrees.
    pub raise_deg: f32,
}

/// What is dressed, and in what.
#[derive(Resource, Default)]
pub struct Dressed {
    faces: Option<(Arc<Shell>, Arc<Faces>)>,
    sorting: Task<(Arc<Shell>, Faces)>,
    sorted_for: Option<Arc<Shell>>,
    worn: Option<(Arc<Shell>, Look)>,
}

/// A part of the dressed guard.
#[derive(Component)]
pub struct DressedPart;

/// Whether the limb and the plain shell are seen at this step.
pub fn clear_stage(
    view: Res<View>,
    dressed: Query<(), With<DressedPart>>,
    mut limb: Query<&mut Visibility, (With<LimbPart>, Without<ShellOnStage>)>,
    mut plain: Query<&mut Visibility, (With<ShellOnStage>, Without<LimbPart>)>,
) {
    let showing = view.step == Step::Show;
    let no_limb = view.step == Step::Print || (showing && view.show.alone);
    // What does not change must not be touched, and what changes must be seen to change, or it stays as it was drawn.
    let set = |mut visibility: Mut<Visibility>, hidden: bool| {
        visibility.set_if_neq(if hidden { Visibility::Hidden } else { Visibility::Inherited });
    };
    limb.iter_mut().for_each(|visibility| set(visibility, no_limb));
    let no_shell = showing && !dressed.is_empty();
    plain.iter_mut().for_each(|visibility| set(visibility, no_shell));
}

/// Dresses the best shell there is, at the show step.
#[allow(clippy::too_many_arguments)]
pub fn dress(
    mut commands: Commands,
    bench: Res<Bench>,
    view: Res<View>,
    mut dressed: ResMut<Dressed>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<StandardMaterial>>,
    mut images: ResMut<Assets<Image>>,
    old: Query<Entity, With<DressedPart>>,
) {
    let session = &bench.session;
    let design = session.design().filter(|_| view.step == Step::Show);
    let Some((design, shell)) = design.and_then(|d| Some((d, session.derived().best_shell(d)?))) else {
        if dressed.worn.take().is_some() {
            old.iter().for_each(|entity| commands.entity(entity).despawn());
        }
        return;
    };
    // Which triangles look outward is found on another thread, once for each shell.
    if let Some(Outcome::Done((shell, faces))) = dressed.sorting.take() {
        dressed.faces = Some((shell, Arc::new(faces)));
        dressed.worn = None;
    }
    if dressed.sorted_for.as_ref().is_none_or(|of| !Arc::ptr_eq(of, shell))
        && let Some(limb) = session.derived().limb.value()
    {
        let (shell, limb) = (Arc::clone(shell), Arc::clone(limb));
        dressed.sorted_for = Some(Arc::clone(&shell));
        dressed.sorting.start(move |_| {
            let sorted = outer_faces(&shell.mesh, &limb.skin);
            (shell, sorted)
        });
    }
    let look = design.look.clone().unwrap_or_default();
    if dressed.worn.as_ref().is_some_and(|(of, worn)| Arc::ptr_eq(of, shell) && *worn == look) {
        return;
    }
    dressed.worn = Some((Arc::clone(shell), look.clone()));
    old.iter().for_each(|entity| commands.entity(entity).despawn());
    let plain = materials.add(plastic(&look));
    let sorted = dressed.faces.as_ref().filter(|(of, _)| Arc::ptr_eq(of, shell)).map(|(_, faces)| faces);
    let canvas = look.artwork.as_ref().and_then(|artwork| paint(artwork, look.colour));
    let (Some(faces), Some(artwork), Some(canvas)) = (sorted, &look.artwork, canvas) else {
        let all: Vec<u32> = (0..u32::try_from(shell.mesh.triangles.len()).unwrap_or(u32::MAX)).collect();
        let mesh = meshes.add(parts::plain(&shell.mesh, &all));
        commands.spawn((DressedPart, Mesh3d(mesh), MeshMaterial3d(plain)));
        return;
    };
    let wrapped = wrap(&shell.mesh, faces, artwork, canvas.aspect());
    let painted = parts::painted(&shell.mesh, &wrapped.painted);
    let image = images.add(canvas::into_image(canvas, look.colour));
    let covered =
        materials.add(StandardMaterial { base_color: Color::WHITE, base_color_texture: Some(image), ..plastic(&look) });
    commands.spawn((DressedPart, Mesh3d(meshes.add(painted)), MeshMaterial3d(covered)));
    commands.spawn((DressedPart, Mesh3d(meshes.add(parts::plain(&shell.mesh, &wrapped.bare))), MeshMaterial3d(plain)));
}

fn plastic(look: &Look) -> StandardMaterial {
    let [r, g, b] = look.colour;
    let (perceptual_roughness, reflectance) = match look.finish {
        Finish::Matt => (0.95, 0.2),
        Finish::Satin => (0.45, 0.5),
        Finish::Gloss => (0.12, 0.75),
    };
    StandardMaterial { base_color: Color::srgb_u8(r, g, b), perceptual_roughness, reflectance, ..default() }
}

/// Turns the stage slowly, and lets frames come as fast as they can meanwhile.
pub fn turn_slowly(
    mut view: ResMut<View>,
    time: Res<Time>,
    mut camera: Single<&mut StageCamera>,
    mut winit: ResMut<WinitSettings>,
    mut usual: Local<Option<UpdateMode>>,
) {
    let front = camera.transform().translation - camera.middle;
    let show = &mut view.bypass_change_detection().show;
    (show.front_deg, show.raise_deg) = (front.y.atan2(front.x).to_degrees(), camera.up.to_degrees());
    let turning = view.step == Step::Show && view.show.turning;
    if turning {
        camera.around += TURN * time.delta_secs().min(0.5);
        if usual.is_none() {
            *usual = Some(winit.focused_mode);
            winit.focused_mode = UpdateMode::Continuous;
        }
    } else if let Some(mode) = usual.take() {
        winit.focused_mode = mode;
    }
}
