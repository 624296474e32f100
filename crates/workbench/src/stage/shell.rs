//! The shell on the stage.

use std::sync::Arc;

use bevy::asset::RenderAssetUsages;
use bevy::mesh::{Indices, PrimitiveTopology};
use bevy::prelude::*;

use crate::bench::Bench;
use crate::step::Step;
use crate::view::View;

/// The shell.
#[derive(Component)]
pub struct ShellOnStage {
    shown: Arc<shell::Shell>,
}

/// Puts the best shell there is on the stage, from the shell step on.
pub fn stand(
    mut commands: Commands,
    bench: Res<Bench>,
    view: Res<View>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<StandardMaterial>>,
    old: Query<(Entity, &ShellOnStage)>,
) {
    let session = &bench.session;
    let wanted = session
        .design()
        .filter(|_| !matches!(view.step, Step::Scan | Step::Zone))
        .and_then(|design| session.derived().best_shell(design));
    let shown = old.iter().next();
    let same = match (wanted, shown) {
        (Some(wanted), Some((_, shown))) => Arc::ptr_eq(wanted, &shown.shown),
        (None, None) => true,
        _ => false,
    };
    if same {
        return;
    }
    old.iter().for_each(|(entity, _)| commands.entity(entity).despawn());
    let Some(shell) = wanted else { return };
    let material = materials.add(StandardMaterial {
        base_color: Color::srgb_u8(0xf0, 0xe2, 0xc4),
        perceptual_roughness: 0.45,
        ..default()
    });
    commands.spawn((
        ShellOnStage { shown: Arc::clone(shell) },
        Mesh3d(meshes.add(shell_mesh(&shell.mesh))),
        MeshMaterial3d(material),
    ));
}

fn shell_mesh(shell: &mesh::Mesh) -> Mesh {
    let normals = shell.vertex_normals();
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::RENDER_WORLD)
        .with_inserted_attribute(
            Mesh::ATTRIBUTE_POSITION,
            shell.points.iter().map(|p| -> [f32; 3] { p.coords.into() }).collect::<Vec<_>>(),
        )
        .with_inserted_attribute(
            Mesh::ATTRIBUTE_NORMAL,
            normals.iter().map(|n| -> [f32; 3] { (*n).into() }).collect::<Vec<_>>(),
        )
        .with_inserted_indices(Indices::U32(shell.triangles.concat()))
}
