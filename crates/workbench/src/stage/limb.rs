//! The limb on the stage: its patches and their colours.

use bevy::asset::RenderAssetUsages;
use bevy::mesh::{Indices, PrimitiveTopology};
use bevy::prelude::*;
use mesh::Surface;

use super::patches::Patch;
use super::shade::Shade;
use super::skin::SkinOnStage;
use crate::bench::Bench;

/// Most patches sent in one frame; a dab touches fewer.
const MOST_SENT: usize = 24;

/// The limb as it stands on the stage.
#[derive(Resource, Default)]
pub struct LimbOnStage {
    /// Serial of the limb shown.
    serial: u64,
    meshes: Vec<Handle<Mesh>>,
    /// Serials of the sketch and the zone last looked at.
    seen: Option<(u64, u64)>,
    /// Serial of the shading last taken.
    shade: u64,
    /// What its skin shows.
    pub skin: SkinOnStage,
}

impl LimbOnStage {
    /// Whether all of the limb stands there.
    pub fn is_whole(&self) -> bool {
        !self.meshes.is_empty()
    }
}

/// Puts a new limb on the stage.
pub fn stand(
    mut commands: Commands,
    bench: Res<Bench>,
    mut shown: ResMut<LimbOnStage>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<StandardMaterial>>,
    old: Query<Entity, With<LimbPart>>,
) {
    let limb = &bench.session.derived().limb;
    if limb.serial() == shown.serial {
        return;
    }
    *shown = LimbOnStage { serial: limb.serial(), ..LimbOnStage::default() };
    old.iter().for_each(|entity| commands.entity(entity).despawn());
    let Some(limb) = limb.value() else { return };
    shown.skin = SkinOnStage::new(&limb.skin);
    let material = materials.add(StandardMaterial {
        base_color: Color::WHITE,
        perceptual_roughness: 0.75,
        reflectance: 0.3,
        ..default()
    });
    let parts: Vec<Handle<Mesh>> = shown
        .skin
        .patches()
        .iter()
        .enumerate()
        .map(|(i, patch)| {
            let mesh = meshes.add(patch_mesh(&limb.skin, patch, shown.skin.colours(&limb.skin, i)));
            commands.spawn((LimbPart, Mesh3d(mesh.clone()), MeshMaterial3d(material.clone())));
            mesh
        })
        .collect();
    shown.meshes = parts;
}

/// A part of the limb.
#[derive(Component)]
pub struct LimbPart;

/// Brings the colours up to date where something changed.
pub fn colour(bench: Res<Bench>, shade: Res<Shade>, mut shown: ResMut<LimbOnStage>, mut meshes: ResMut<Assets<Mesh>>) {
    let derived = bench.session.derived();
    let (Some(limb), Some(design)) = (derived.limb.value(), bench.session.design()) else { return };
    let shown = shown.bypass_change_detection();
    let serials = (derived.sketch.serial(), derived.zone.serial());
    if shown.seen != Some(serials) {
        shown.seen = Some(serials);
        let sketch = derived.sketch_now(design);
        let covered = derived.zone_now(design).map(|z| &z.covered.distance_mm).or(sketch.map(|s| &s.covered_mm));
        let nothing = design.zone.sources.is_empty() && design.zone.regions.is_empty();
        // What belongs to an earlier state is passed over: the brush has shown more than it knows.
        if covered.is_some() || nothing {
            let kinds = design.zone.regions.iter().map(|r| r.kind);
            let depths = sketch.map_or(&[][..], |s| &s.regions_mm);
            if sketch.is_some() || nothing {
                let regions: Vec<_> = kinds.zip(depths.iter().map(Vec::as_slice)).collect();
                shown.skin.show(covered.map(Vec::as_slice), &regions);
            }
        }
    }
    if shown.shade != shade.serial {
        shown.shade = shade.serial;
        shown.skin.shade(&shade.factors);
    }
    for (i, colours) in shown.skin.take_changed(&limb.skin, MOST_SENT) {
        if let Some(mut mesh) = shown.meshes.get(i).and_then(|m| meshes.get_mut(m)) {
            mesh.insert_attribute(Mesh::ATTRIBUTE_COLOR, colours);
        }
    }
}

fn patch_mesh(skin: &Surface, patch: &Patch, colours: Vec<[f32; 4]>) -> Mesh {
    let of = |v: &u32| -> [f32; 3] { skin.mesh().points[*v as usize].coords.into() };
    let normal = |v: &u32| -> [f32; 3] { skin.vertex_normals()[*v as usize].into() };
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::default())
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, patch.vertices.iter().map(of).collect::<Vec<_>>())
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, patch.vertices.iter().map(normal).collect::<Vec<_>>())
        .with_inserted_attribute(Mesh::ATTRIBUTE_COLOR, colours)
        .with_inserted_indices(Indices::U32(patch.triangles.concat()))
}
