//! The printer's bed under the shell, at the print step.

use std::sync::Arc;

use bevy::asset::RenderAssetUsages;
use bevy::mesh::{Indices, PrimitiveTopology};
use bevy::prelude::*;
use nalgebra::Point3;
use print::bed::OnBed;
use session::{Outcome, Task};
use shell::Shell;

use super::camera::{SetAside, StageCamera, some};
use crate::state::{Bench, StageRect, Step, View};

/// Width of the outline, mm.
const LINE_MM: f32 = 1.6;

/// The search for how the part lies.
#[derive(Resource, Default)]
pub struct Laying(Task<Laid>);

/// A bed with the part on it.
struct Laid {
    of: (Arc<Shell>, [f32; 3]),
    laid: Option<OnBed>,
}

/// The outline.
#[derive(Component)]
pub struct Bed;

/// Finds how the shell lies on the bed, as in the print files, and draws the bed under it.
pub fn lay(
    mut commands: Commands,
    bench: Res<Bench>,
    mut view: ResMut<View>,
    mut laying: ResMut<Laying>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<StandardMaterial>>,
    old: Query<Entity, With<Bed>>,
) {
    let session = &bench.session;
    let shell = session.design().and_then(|design| session.derived().best_shell(design));
    let wanted = shell.filter(|_| view.step == Step::Print).zip(session.preferences.known_bed_mm());
    let view = view.bypass_change_detection();
    let Some((shell, sides)) = wanted else {
        laying.0.cancel();
        if view.print.of.is_some() {
            (view.print.laid, view.print.of) = (None, None);
            old.iter().for_each(|entity| commands.entity(entity).despawn());
        }
        return;
    };
    let found = laying.0.take();
    let is_wanted = |(of, of_sides): &(Arc<Shell>, [f32; 3])| Arc::ptr_eq(shell, of) && sides == *of_sides;
    if !view.print.of.as_ref().is_some_and(is_wanted) && found.is_none() && !laying.0.is_running() {
        let of = (Arc::clone(shell), sides);
        laying.0.start(move |_| Laid { laid: print::bed::lay(&of.0.mesh, of.1), of });
    }
    let Some(Outcome::Done(found)) = found else { return };
    old.iter().for_each(|entity| commands.entity(entity).despawn());
    let (bounds, sides) = (found.of.0.bounds, found.of.1);
    (view.print.laid, view.print.of) = (found.laid, Some(found.of));
    let (Some(laid), Some((low, high))) = (found.laid, bounds) else { return };
    let colour = if laid.fits() { Color::srgb_u8(0x1d, 0x6b, 0x66) } else { Color::srgb_u8(0x9c, 0x2f, 0x1e) };
    let middle = Vec3::new(0.5 * (low.x + high.x), 0.5 * (low.y + high.y), low.z - 0.3);
    // The part stays on the limb's axes; the bed is turned the other way instead.
    let turn = Quat::from_rotation_z(-(laid.turn_deg as f32).to_radians());
    let place = Transform::from_translation(middle).with_rotation(turn);
    let flat = |colour: Color, alpha: f32| StandardMaterial {
        base_color: colour.with_alpha(alpha),
        alpha_mode: if alpha < 1.0 { AlphaMode::Blend } else { AlphaMode::Opaque },
        unlit: true,
        cull_mode: None,
        ..default()
    };
    commands.spawn((Bed, Mesh3d(meshes.add(outline(sides))), MeshMaterial3d(materials.add(flat(colour, 1.0))), place));
    commands.spawn((
        Bed,
        Mesh3d(meshes.add(rectangles(&[[-sides[0], -sides[1], sides[0], sides[1]].map(|s| 0.5 * s)]))),
        MeshMaterial3d(materials.add(flat(colour, 0.09))),
        place,
    ));
}

/// Brings all of the bed into sight at the print step, and the view from before at the others.
pub fn bring_into_sight(
    mut view: ResMut<View>,
    stage: Res<StageRect>,
    beds: Query<(&Transform, Ref<Bed>), Without<StageCamera>>,
    mut camera: Single<&mut StageCamera>,
    mut aside: Local<SetAside>,
) {
    if view.step != Step::Print {
        aside.give_back(&mut camera);
        return;
    }
    let (Some((place, bed)), Some((shell, sides))) = (beds.iter().next(), &view.print.of) else { return };
    if !bed.is_added() && !view.see_all {
        return;
    }
    let Some((mut low, mut high)) = shell.bounds else { return };
    let corners = [[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]]
        .map(|[x, y]| Point3::from(place.transform_point(Vec3::new(x * sides[0], y * sides[1], 0.0)).to_array()));
    for corner in &corners {
        (low, high) = (low.inf(corner), high.sup(corner));
    }
    let points = some(&shell.mesh).chain(&corners);
    aside.set(&mut camera, |camera| camera.look_at((low, high), points, stage.aspect()));
    view.bypass_change_detection().see_all = false;
}

/// A frame of the bed's size, with a tick every 10 cm along two of its sides.
fn outline([x, y, _]: [f32; 3]) -> Mesh {
    let (x, y, w) = (0.5 * x, 0.5 * y, LINE_MM);
    let mut bars = vec![[-x, -y, x, -y + w], [-x, y - w, x, y], [-x, -y, -x + w, y], [x - w, -y, x, y]];
    for step in 1..(2.0 * x / 100.0).ceil() as u16 {
        let at = 100.0 * f32::from(step) - x;
        bars.push([at - 0.5 * w, -y, at + 0.5 * w, -y + 6.0]);
    }
    for step in 1..(2.0 * y / 100.0).ceil() as u16 {
        let at = 100.0 * f32::from(step) - y;
        bars.push([-x, at - 0.5 * w, -x + 6.0, at + 0.5 * w]);
    }
    rectangles(&bars)
}

/// Axis-parallel rectangles in the plane z = 0, each given as left, bottom, right, top.
fn rectangles(all: &[[f32; 4]]) -> Mesh {
    let corners = |[a, b, c, d]: [f32; 4]| [[a, b, 0.0], [c, b, 0.0], [c, d, 0.0], [a, d, 0.0]];
    let points: Vec<[f32; 3]> = all.iter().flat_map(|bar| corners(*bar)).collect();
    let count = u32::try_from(all.len()).unwrap_or(0);
    let triangles = (0..count).flat_map(|i| [0, 1, 2, 0, 2, 3].map(|corner| 4 * i + corner)).collect();
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::RENDER_WORLD)
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, vec![[0.0, 0.0, 1.0]; points.len()])
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, points)
        .with_inserted_indices(Indices::U32(triangles))
}
