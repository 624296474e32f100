//! The scan as it came, in sight while it is being cleaned.

use std::sync::Arc;

use bevy::asset::RenderAssetUsages;
use bevy::mesh::{Indices, PrimitiveTopology};
use bevy::prelude::*;
use session::RawScan;

use super::camera::StageCamera;
use super::limb::LimbPart;
use crate::bench::Bench;

/// The raw scan.
#[derive(Component)]
pub struct RawOnStage {
    shown: Arc<RawScan>,
}

/// Puts the raw scan on the stage instead of the limb, and takes it away when the limb is there.
pub fn stand(
    mut commands: Commands,
    bench: Res<Bench>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<StandardMaterial>>,
    old: Query<(Entity, &RawOnStage)>,
    limb: Query<Entity, With<LimbPart>>,
    mut camera: Single<&mut StageCamera>,
) {
    let wanted = bench.session.raw_scan();
    let shown = old.iter().next();
    let same = match (&wanted, shown) {
        (Some(wanted), Some((_, shown))) => Arc::ptr_eq(wanted, &shown.shown),
        (None, None) => true,
        _ => false,
    };
    if same {
        return;
    }
    old.iter().for_each(|(entity, _)| commands.entity(entity).despawn());
    limb.iter().for_each(|entity| {
        commands.entity(entity).insert(if wanted.is_some() { Visibility::Hidden } else { Visibility::Inherited });
    });
    let Some(raw) = wanted else { return };
    if let Some((low, high)) = raw.mesh.bounds() {
        camera.look_at(Vec3::from_array(low.coords.into()), Vec3::from_array(high.coords.into()));
    }
    let material = materials.add(StandardMaterial {
        base_color: Color::srgb_u8(0xb9, 0xa8, 0x98),
        perceptual_roughness: 0.8,
        double_sided: true,
        cull_mode: None,
        ..default()
    });
    let mesh = meshes.add(raw_mesh(&raw));
    commands.spawn((RawOnStage { shown: raw }, Mesh3d(mesh), MeshMaterial3d(material)));
}

fn raw_mesh(raw: &RawScan) -> Mesh {
    let points: Vec<[f32; 3]> = raw.mesh.points.iter().map(|p| p.coords.into()).collect();
    let normals: Vec<[f32; 3]> = raw.normals.iter().map(|n| (*n).into()).collect();
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::RENDER_WORLD)
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, points)
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, normals)
        .with_inserted_indices(Indices::U32(raw.mesh.triangles.concat()))
}
