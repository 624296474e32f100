//! The shell on the stage.

use std::sync::Arc;

use bevy::asset::RenderAssetUsages;
use bevy::mesh::{Indices, PrimitiveTopology};
use bevy::prelude::*;
use fit::Clearance;
use mechanics::Family;

use crate::bench::Bench;
use crate::look::heat;
use crate::looking::scale_mm;
use crate::step::Step;
use crate::view::View;

/// The shell.
#[derive(Component)]
pub struct ShellOnStage {
    shown: Arc<shell::Shell>,
    dress: Dress,
}

/// What colours it.
#[derive(Clone, PartialEq)]
enum Dress {
    Plain(Family),
    /// The gap as far as it was measured, to this end of the scale.
    Gap(Option<Arc<Clearance>>, u32),
}

/// The plain colour of a kind of filament.
pub fn plain(family: Family) -> Color {
    match family {
        Family::Rigid => Color::srgb_u8(0xf0, 0xe2, 0xc4),
        Family::SemiRigid => Color::srgb_u8(0xcf, 0xdc, 0xe4),
        Family::Flexible => Color::srgb_u8(0x6f, 0x74, 0x7c),
    }
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
    let wanted = session.design().filter(|_| !matches!(view.step, Step::Scan | Step::Zone)).and_then(|design| {
        let derived = session.derived();
        let dress = if view.step == Step::Fit && view.looking.heat {
            Dress::Gap(derived.clearance_now(design).cloned(), scale_mm(design.shell.gap_mm).to_bits())
        } else {
            Dress::Plain(design.material)
        };
        Some((derived.best_shell(design)?, dress))
    });
    let shown = old.iter().next();
    let same = match (&wanted, shown) {
        (Some((wanted, dress)), Some((_, shown))) => Arc::ptr_eq(wanted, &shown.shown) && shown.dress.is(dress),
        (None, None) => true,
        _ => false,
    };
    if same {
        return;
    }
    old.iter().for_each(|(entity, _)| commands.entity(entity).despawn());
    let Some((shell, dress)) = wanted else { return };
    let family = session.design().map_or(Family::SemiRigid, |design| design.material);
    let (colours, base) = match &dress {
        Dress::Plain(family) => (None, plain(*family)),
        Dress::Gap(None, _) => (None, plain(family)),
        Dress::Gap(Some(gap), scale) => {
            (Some(gap_colours(&shell.mesh, gap, f32::from_bits(*scale), plain(family))), Color::WHITE)
        }
    };
    let rough = if family == Family::Flexible { 0.7 } else { 0.45 };
    let material = materials.add(StandardMaterial { base_color: base, perceptual_roughness: rough, ..default() });
    commands.spawn((
        Mesh3d(meshes.add(shell_mesh(&shell.mesh, colours))),
        MeshMaterial3d(material),
        ShellOnStage { shown: Arc::clone(shell), dress },
    ));
}

impl Dress {
    fn is(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Gap(Some(a), s), Self::Gap(Some(b), t)) => Arc::ptr_eq(a, b) && s == t,
            (Self::Gap(None, _), Self::Gap(None, _)) => true,
            (Self::Plain(a), Self::Plain(b)) => a == b,
            _ => false,
        }
    }
}

/// The gap in colours where the shell looks at the skin, its plain colour elsewhere.
fn gap_colours(mesh: &mesh::Mesh, gap: &Clearance, scale_mm: f32, plain: Color) -> Vec<[f32; 4]> {
    let plain = plain.to_linear();
    let mut colours = vec![[plain.red, plain.green, plain.blue, 1.0]; mesh.points.len()];
    for v in gap.inner.triangles.iter().filter_map(|t| mesh.triangles.get(*t as usize)).flatten() {
        if let (Some(colour), Some(mm)) = (colours.get_mut(*v as usize), gap.distance_mm.get(*v as usize)) {
            let [r, g, b] = heat::linear(mm / scale_mm);
            *colour = [r, g, b, 1.0];
        }
    }
    colours
}

fn shell_mesh(shell: &mesh::Mesh, colours: Option<Vec<[f32; 4]>>) -> Mesh {
    let normals = shell.vertex_normals();
    let mesh = Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::default())
        .with_inserted_attribute(
            Mesh::ATTRIBUTE_POSITION,
            shell.points.iter().map(|p| -> [f32; 3] { p.coords.into() }).collect::<Vec<_>>(),
        )
        .with_inserted_attribute(
            Mesh::ATTRIBUTE_NORMAL,
            normals.iter().map(|n| -> [f32; 3] { (*n).into() }).collect::<Vec<_>>(),
        )
        .with_inserted_indices(Indices::U32(shell.triangles.concat()));
    match colours {
        Some(colours) => mesh.with_inserted_attribute(Mesh::ATTRIBUTE_COLOR, colours),
        None => mesh,
    }
}
