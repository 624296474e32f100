//! The fit step on the stage: the limb seen through, limb and shell cut open at the plane.

use bevy::mesh::Indices;
use bevy::prelude::*;

use super::camera::{SetAside, StageCamera};
use super::chunk_mesh::Extent;
use super::even_light::SkinMaterial;
use super::facing::outward;
use super::limb::LimbChunk;
use crate::state::{Bench, Step, View};

/// All triangles of a mesh of which a part is shown, and the height it is cut at.
#[derive(Component)]
pub struct CutOpen {
    whole: Vec<u32>,
    at_mm: f32,
}

/// Lets the limb be seen through.
pub fn see_through(
    view: Res<View>,
    parts: Query<&MeshMaterial3d<SkinMaterial>, With<LimbChunk>>,
    mut materials: ResMut<Assets<SkinMaterial>>,
) {
    let share = if view.step == Step::Fit { view.fit.limb } else { 1.0 };
    for part in &parts {
        let shown = materials.get(&part.0).map(|material| material.base.base_color.alpha());
        if shown.is_some_and(|shown| (shown - share).abs() > 1e-3)
            && let Some(mut material) = materials.get_mut(&part.0)
        {
            material.base.base_color.set_alpha(share);
            material.base.alpha_mode = if share < 0.999 { AlphaMode::Blend } else { AlphaMode::Opaque };
        }
    }
}

/// Turns the camera to the inner face of the shell, seen through the limb, and back again at other steps.
pub fn look_inside(
    bench: Res<Bench>,
    mut view: ResMut<View>,
    mut camera: Single<&mut StageCamera>,
    mut aside: Local<SetAside>,
) {
    if view.step != Step::Fit {
        aside.give_back(&mut camera);
    }
    if !view.fit.turn_inside {
        return;
    }
    view.bypass_change_detection().fit.turn_inside = false;
    let derived = bench.session.derived();
    let (Some(limb), Some(zone)) = (derived.limb.value(), derived.zone.value()) else { return };
    let out = outward(limb.skin.vertex_normals(), &zone.covered.distance_mm);
    aside.set(&mut camera, |camera| {
        camera.around = (-out[1]).atan2(-out[0]);
        camera.up = 0.15;
    });
}

/// Hides what is above the plane. Only parts that the plane meets are changed; the others are shown or hidden as a
/// whole.
pub fn cut(
    mut commands: Commands,
    view: Res<View>,
    mut things: Query<(Entity, &Mesh3d, &mut Extent, Option<&CutOpen>)>,
    mut meshes: ResMut<Assets<Mesh>>,
) {
    let looks = view.step == Step::Fit && view.fit.cut;
    let wanted = view.fit.cut_at().filter(|_| looks);
    for (entity, handle, mut part, open) in &mut things {
        let meets = wanted.filter(|at_mm| (part.low_mm..part.high_mm).contains(at_mm));
        let mut away = wanted.is_some_and(|at_mm| part.low_mm >= at_mm);
        match (meets, open) {
            (None, Some(open)) if !away => {
                if let Some(mut mesh) = meshes.get_mut(&handle.0) {
                    mesh.insert_indices(Indices::U32(open.whole.clone()));
                }
                commands.entity(entity).remove::<CutOpen>();
            }
            (Some(at_mm), open) if open.is_none_or(|open| open.at_mm != at_mm) => {
                let Some(mesh) = meshes.get(&handle.0) else { continue };
                let whole = match (open, mesh.indices()) {
                    (Some(open), _) => open.whole.clone(),
                    (None, Some(Indices::U32(all))) => all.clone(),
                    _ => continue,
                };
                let Some(points) = mesh.attribute(Mesh::ATTRIBUTE_POSITION).and_then(|p| p.as_float3()) else {
                    continue;
                };
                let below = below(points, &whole, at_mm);
                away = below.is_empty();
                if !away && let Some(mut mesh) = meshes.get_mut(&handle.0) {
                    mesh.insert_indices(Indices::U32(below));
                }
                commands.entity(entity).insert(CutOpen { whole, at_mm: if away { f32::NAN } else { at_mm } });
            }
            _ => {}
        }
        if part.away != away {
            part.away = away;
        }
    }
}

/// The triangles whose middle is below a height.
fn below(points: &[[f32; 3]], triangles: &[u32], height_mm: f32) -> Vec<u32> {
    let z = |v: u32| points.get(v as usize).map_or(f32::INFINITY, |p| p[2]);
    triangles
        .chunks_exact(3)
        .filter(|t| t.iter().map(|v| z(*v)).sum::<f32>() <= 3.0 * height_mm)
        .flatten()
        .copied()
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn triangles_are_kept_by_their_middle() {
        let points = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 3.0], [0.0, 0.0, 9.0]];
        let triangles = [0, 1, 2, 1, 2, 3, 0, 1, 9];
        assert_eq!(below(&points, &triangles, 1.0), [0, 1, 2]);
        assert_eq!(below(&points, &triangles, 4.0), [0, 1, 2, 1, 2, 3]);
        assert!(below(&points, &triangles, 0.5).is_empty());
    }
}
