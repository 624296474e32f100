//! The raw scan, shown while it is being cleaned.

use std::sync::Arc;

use bevy::asset::RenderAssetUsages;
use bevy::mesh::{Indices, PrimitiveTopology};
use bevy::prelude::*;
use session::{Outcome, RawScan, Task};

use super::assets::StageAssets;
use super::camera::{StageCamera, some};
use super::limb::LimbOnStage;
use crate::state::{Bench, StageRect};

/// The raw scan on the stage.
#[derive(Resource, Default)]
pub struct RawOnStage {
    asked: Option<Arc<RawScan>>,
    making: Task<Mesh>,
    shown: Option<Entity>,
}

impl RawOnStage {
    /// Whether it is in sight.
    pub fn is_shown(&self) -> bool {
        self.shown.is_some()
    }
}

/// Puts the raw scan on the stage instead of the limb, and takes it away when the limb is there.
pub fn stand(
    mut commands: Commands,
    bench: Res<Bench>,
    limb: Res<LimbOnStage>,
    mut raw: ResMut<RawOnStage>,
    mut assets: StageAssets,
    stage: Res<StageRect>,
    mut camera: Single<&mut StageCamera>,
) {
    let raw = raw.bypass_change_detection();
    let wanted = bench.session.raw_scan();
    if let Some(wanted) = &wanted
        && !raw.asked.as_ref().is_some_and(|asked| Arc::ptr_eq(asked, wanted))
    {
        raw.asked = Some(Arc::clone(wanted));
        let scan = Arc::clone(wanted);
        raw.making.start(move |_| raw_mesh(&scan));
    }
    if wanted.is_none() {
        raw.asked = None;
        raw.making.cancel();
        // If a limb will come, the raw scan stays until that is on the stage.
        if (limb.is_whole() || bench.session.derived().limb.value().is_none())
            && let Some(entity) = raw.shown.take()
        {
            commands.entity(entity).despawn();
        }
        return;
    }
    let Some(Outcome::Done(mesh)) = raw.making.take() else { return };
    if let Some(entity) = raw.shown.take() {
        commands.entity(entity).despawn();
    }
    let Some(scan) = wanted.filter(|scan| !scan.mesh.triangles.is_empty()) else { return };
    if let Some(bounds) = scan.bounds {
        camera.look_at(bounds, some(&scan.mesh), stage.aspect());
    }
    let material = assets.materials.add(StandardMaterial {
        base_color: Color::srgb_u8(0xb9, 0xa8, 0x98),
        perceptual_roughness: 0.8,
        double_sided: true,
        cull_mode: None,
        ..default()
    });
    raw.shown = Some(commands.spawn((Mesh3d(assets.meshes.add(mesh)), MeshMaterial3d(material))).id());
}

fn raw_mesh(raw: &RawScan) -> Mesh {
    let points: Vec<[f32; 3]> = raw.mesh.points.iter().map(|p| p.coords.into()).collect();
    let normals: Vec<[f32; 3]> = raw.normals.iter().map(|n| (*n).into()).collect();
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::RENDER_WORLD)
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, points)
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, normals)
        .with_inserted_indices(Indices::U32(raw.mesh.triangles.concat()))
}
