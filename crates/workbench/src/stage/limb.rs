//! The limb on the stage: its patches and their colours.

use bevy::asset::RenderAssetUsages;
use bevy::mesh::{Indices, PrimitiveTopology};
use bevy::prelude::*;
use mesh::Surface;
use rayon::prelude::*;

use super::patches::{Patch, patches};
use crate::bench::Bench;

/// Skin without colours of its own, linear.
const SKIN: [f32; 3] = [0.62, 0.45, 0.35];
/// What is covered, linear.
const ZONE: [f32; 3] = [0.05, 0.30, 0.29];
/// Share of the zone's colour over the skin.
const ZONE_SHARE: f32 = 0.72;

/// The limb as it stands on the stage.
#[derive(Resource, Default)]
pub struct LimbOnStage {
    /// Serial of the limb shown.
    serial: u64,
    parts: Vec<Part>,
    /// Serial of the zone shown in colours.
    zone: u64,
    /// Depth inside the zone of each vertex as shown now, mm: the zone's, changed by what is being painted.
    pub depth_mm: Vec<f32>,
}

struct Part {
    patch: Patch,
    mesh: Handle<Mesh>,
    /// Its colours are to be sent.
    dirty: bool,
}

impl LimbOnStage {
    /// Sets what is shown at some vertices, in rising order.
    pub fn show_depths(&mut self, changed: &[(u32, f32)]) {
        for (v, depth) in changed {
            if let Some(shown) = self.depth_mm.get_mut(*v as usize) {
                *shown = *depth;
            }
        }
        let Some((first, last)) = changed.first().zip(changed.last()).map(|(a, b)| (a.0, b.0)) else { return };
        for part in &mut self.parts {
            let own = &part.patch.vertices;
            if own.first().is_some_and(|v| *v > last) || own.last().is_some_and(|v| *v < first) {
                continue;
            }
            part.dirty |= changed.iter().any(|(v, _)| own.binary_search(v).is_ok());
        }
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
    shown.serial = limb.serial();
    shown.parts.clear();
    shown.zone = u64::MAX;
    old.iter().for_each(|entity| commands.entity(entity).despawn());
    let Some(limb) = limb.value() else { return };
    let skin = &limb.skin;
    shown.depth_mm = vec![f32::NEG_INFINITY; skin.mesh().points.len()];
    let material = materials.add(StandardMaterial {
        base_color: Color::WHITE,
        perceptual_roughness: 0.75,
        reflectance: 0.3,
        ..default()
    });
    for patch in patches(skin.mesh()) {
        let mesh = meshes.add(patch_mesh(skin, &patch, &shown.depth_mm));
        commands.spawn((LimbPart, Mesh3d(mesh.clone()), MeshMaterial3d(material.clone())));
        shown.parts.push(Part { patch, mesh, dirty: false });
    }
}

/// A part of the limb.
#[derive(Component)]
pub struct LimbPart;

/// Brings the colours up to date where something changed.
pub fn colour(bench: Res<Bench>, mut shown: ResMut<LimbOnStage>, mut meshes: ResMut<Assets<Mesh>>) {
    let derived = bench.session.derived();
    let Some(limb) = derived.limb.value() else { return };
    let shown = shown.bypass_change_detection();
    if shown.zone != derived.zone.serial() {
        shown.zone = derived.zone.serial();
        match derived.zone.value().filter(|z| z.covered.distance_mm.len() == shown.depth_mm.len()) {
            Some(zone) => shown.depth_mm.copy_from_slice(&zone.covered.distance_mm),
            None => shown.depth_mm.fill(f32::NEG_INFINITY),
        }
        shown.parts.iter_mut().for_each(|part| part.dirty = true);
    }
    for part in shown.parts.iter_mut().filter(|part| part.dirty) {
        part.dirty = false;
        if let Some(mut mesh) = meshes.get_mut(&part.mesh) {
            mesh.insert_attribute(Mesh::ATTRIBUTE_COLOR, colours(&limb.skin, &part.patch, &shown.depth_mm));
        }
    }
}

fn patch_mesh(skin: &Surface, patch: &Patch, depth_mm: &[f32]) -> Mesh {
    let of = |v: &u32| -> [f32; 3] { skin.mesh().points[*v as usize].coords.into() };
    let normal = |v: &u32| -> [f32; 3] { skin.vertex_normals()[*v as usize].into() };
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::default())
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, patch.vertices.iter().map(of).collect::<Vec<_>>())
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, patch.vertices.iter().map(normal).collect::<Vec<_>>())
        .with_inserted_attribute(Mesh::ATTRIBUTE_COLOR, colours(skin, patch, depth_mm))
        .with_inserted_indices(Indices::U32(patch.triangles.concat()))
}

fn colours(skin: &Surface, patch: &Patch, depth_mm: &[f32]) -> Vec<[f32; 4]> {
    let own = skin.mesh().colours.as_ref();
    patch
        .vertices
        .par_iter()
        .map(|v| {
            let skin = own.map_or(SKIN, |c| {
                let [r, g, b] = [0, 1, 2].map(|k| c[*v as usize][k]);
                let linear = Color::srgb_u8(r, g, b).to_linear();
                [linear.red, linear.green, linear.blue]
            });
            // A soft edge about a millimetre wide.
            let share = ZONE_SHARE * (0.5 + depth_mm[*v as usize]).clamp(0.0, 1.0);
            let [r, g, b] = [0, 1, 2].map(|k| skin[k] + (ZONE[k] - skin[k]) * share);
            [r, g, b, 1.0]
        })
        .collect()
}
