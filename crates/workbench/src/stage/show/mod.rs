//! The guard dressed for the athlete: colour, finish, a picture or pattern on its outer face, a slow turn.

mod meshes;
mod texture;

use std::sync::Arc;

use bevy::prelude::*;
use engine::LimbOnAxes;
use engine::artwork::{Faces, outer_faces, paint, plaques, texture_map};
use locker::{Appearance, Finish};
use mesh::Job;
use session::{Outcome, Task};
use shell::{Mark, Shell};

use super::assets::StageAssets;
use super::camera::StageCamera;
use super::chunk_mesh::Extent;
use super::limb::{LimbChunk, LimbOnStage};
use super::scan::RawOnStage;
use super::shade::shade_of_shell;
use super::shell::ShellOnStage;
use crate::state::{Bench, Step, View};
use meshes::Shaded;

/// Speed of the slow turn, radians a second.
const TURN: f32 = 0.45;

/// What is dressed, and in what.
#[derive(Resource, Default)]
pub struct Dressed {
    worn: Option<Outfit>,
    making: Task<DressedGuard>,
    /// What was worked out about the current shell.
    known: Option<(Arc<Shell>, Known)>,
}

/// A shell, what lies on it, and the numbers and words that are to stay readable.
#[derive(Clone)]
struct Outfit {
    shell: Arc<Shell>,
    look: Appearance,
    marks: Vec<Mark>,
}

/// What is worked out once for each shell.
#[derive(Clone)]
struct Known {
    /// How much lighter or darker each vertex is.
    shade: Arc<Vec<f32>>,
    /// Which triangles face outward; worked out only for a picture.
    faces: Option<Arc<Faces>>,
}

/// A guard that is dressed, ready for the stage.
struct DressedGuard {
    worn: Outfit,
    known: Known,
    plain: Mesh,
    with_picture: Option<(Mesh, Image)>,
    inlay: Option<Mesh>,
}

/// A part of the dressed guard.
#[derive(Component)]
pub struct DressedMesh;

/// Parts of the limb and of the plain shell.
type Parts<'w, 's> = Query<'w, 's, (&'static mut Visibility, &'static Extent, Option<&'static LimbChunk>)>;

/// Shows or hides the parts of the limb and the plain shell, by step.
pub fn clear_stage(
    view: Res<View>,
    limb: Res<LimbOnStage>,
    raw: Res<RawOnStage>,
    dressed: Query<(), With<DressedMesh>>,
    mut parts: Parts,
) {
    let showing = view.step == Step::Show;
    let no_limb = view.step == Step::Print || (showing && view.show.alone) || raw.is_shown();
    let no_shell = showing && !dressed.is_empty();
    for (mut visibility, part, of_limb) in &mut parts {
        let hidden = match of_limb {
            Some(of) => no_limb || limb.hides(of),
            None => no_shell,
        };
        visibility.set_if_neq(if hidden || part.away { Visibility::Hidden } else { Visibility::Inherited });
    }
}

/// Dresses the best shell there is, at the show step.
pub fn dress(
    mut commands: Commands,
    bench: Res<Bench>,
    view: Res<View>,
    on_stage: Res<ShellOnStage>,
    mut dressed: ResMut<Dressed>,
    mut assets: StageAssets,
    old: Query<Entity, With<DressedMesh>>,
) {
    let session = &bench.session;
    let dressed = dressed.bypass_change_detection();
    let design = session.design().filter(|_| view.step == Step::Show);
    let wanted = design.and_then(|design| Some((design, session.derived().best_shell(design)?)));
    let Some((design, shell)) = wanted else {
        dressed.making.cancel();
        if dressed.worn.take().is_some() {
            old.iter().for_each(|entity| commands.entity(entity).despawn());
        }
        return;
    };
    if let Some(Outcome::Done(made)) = dressed.making.take() {
        old.iter().for_each(|entity| commands.entity(entity).despawn());
        let let_in = plastic(made.worn.look.inlay_colour, made.worn.look.finish);
        let plastic = plastic(made.worn.look.colour, made.worn.look.finish);
        if let Some((mesh, image)) = made.with_picture {
            let image = assets.images.add(image);
            let covered = assets.materials.add(StandardMaterial {
                base_color: Color::WHITE,
                base_color_texture: Some(image),
                ..plastic.clone()
            });
            put(&mut commands, &mut assets.meshes, mesh, covered);
        }
        let plain = assets.materials.add(plastic);
        put(&mut commands, &mut assets.meshes, made.plain, plain);
        if let Some(mesh) = made.inlay {
            let let_in = assets.materials.add(let_in);
            put(&mut commands, &mut assets.meshes, mesh, let_in);
        }
        dressed.known = Some((Arc::clone(&made.worn.shell), made.known));
        dressed.worn = Some(made.worn);
    }
    let is_worn = |worn: &Appearance| match &design.look {
        Some(look) => worn == look,
        None => *worn == Appearance::default(),
    };
    let same = dressed.worn.as_ref().is_some_and(|worn| Arc::ptr_eq(&worn.shell, shell) && is_worn(&worn.look));
    if !same && !dressed.making.is_running() {
        let look = design.look.clone().unwrap_or_default();
        let known = dressed.known.as_ref().filter(|(of, _)| Arc::ptr_eq(of, shell)).map(|(_, known)| known.clone());
        let known = known.or_else(|| Some(Known { shade: on_stage.shade_of(shell)?, faces: None }));
        let limb = session.derived().limb.value().cloned();
        let outfit = Outfit { shell: Arc::clone(shell), look, marks: design.shell.marks.clone() };
        dressed.making.start(move |job| make(outfit, limb.as_deref(), known, job));
    }
}

/// Lays colour and picture on the guard; runs on another thread.
fn make(worn: Outfit, limb: Option<&LimbOnAxes>, known: Option<Known>, job: &Job) -> DressedGuard {
    let (mesh, look) = (&worn.shell.mesh, &worn.look);
    let mut known = known.unwrap_or_else(|| Known { shade: shade_of_shell(mesh, job), faces: None });
    let canvas = look.artwork.as_ref().and_then(|artwork| Some((artwork, paint(artwork, look.colour)?)));
    if canvas.is_some() && known.faces.is_none() {
        known.faces = limb.and_then(|limb| outer_faces(mesh, &limb.skin, job).ok()).map(Arc::new);
    }
    let shaded = Shaded { shell: mesh, shade: &known.shade };
    let (plain, with_picture) = match (&known.faces, canvas) {
        (Some(faces), Some((artwork, canvas))) => {
            let plain = limb.map(|limb| plaques(&limb.skin, &worn.marks)).unwrap_or_default();
            let wrapped = texture_map(mesh, faces, artwork, canvas.aspect(), &plain);
            let painted = meshes::painted(&shaded, &wrapped.painted);
            let image = texture::texture(canvas, look.colour);
            (meshes::plain(&shaded, &wrapped.bare), Some((painted, image)))
        }
        _ => {
            let all: Vec<u32> = (0..u32::try_from(mesh.triangles.len()).unwrap_or(u32::MAX)).collect();
            (meshes::plain(&shaded, &all), None)
        }
    };
    let inlay = worn.shell.inlay.as_ref().map(|inlay| {
        let all: Vec<u32> = (0..u32::try_from(inlay.mesh.triangles.len()).unwrap_or(u32::MAX)).collect();
        meshes::plain(&Shaded { shell: &inlay.mesh, shade: &[] }, &all)
    });
    DressedGuard { worn, known, plain, with_picture, inlay }
}

/// Puts a part on the stage; the graphics card takes no mesh without a triangle.
fn put(commands: &mut Commands, meshes: &mut Assets<Mesh>, mesh: Mesh, material: Handle<StandardMaterial>) {
    if mesh.count_vertices() > 0 {
        commands.spawn((DressedMesh, Mesh3d(meshes.add(mesh)), MeshMaterial3d(material)));
    }
}

/// Plastic of a colour and finish.
pub(super) fn plastic([r, g, b]: [u8; 3], finish: Finish) -> StandardMaterial {
    let (perceptual_roughness, reflectance) = match finish {
        Finish::Matt => (0.95, 0.2),
        Finish::Satin => (0.45, 0.5),
        Finish::Gloss => (0.12, 0.75),
    };
    StandardMaterial { base_color: Color::srgb_u8(r, g, b), perceptual_roughness, reflectance, ..default() }
}

/// Notes which side is looked at, and turns the camera slowly at the show step if asked.
pub fn turn_slowly(mut view: ResMut<View>, time: Res<Time>, mut camera: Single<&mut StageCamera>) {
    let front = camera.transform().translation - camera.middle;
    let show = &mut view.bypass_change_detection().show;
    (show.front_deg, show.raise_deg) = (front.y.atan2(front.x).to_degrees(), camera.up.to_degrees());
    if view.step == Step::Show && view.show.turning {
        camera.around += TURN * time.delta_secs().min(0.5);
    }
}
