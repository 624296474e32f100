//! The shell on the stage.

use std::sync::Arc;

use bevy::prelude::*;
use fit::Clearance;
use mechanics::Family;
use session::{Outcome, Task};

use super::part::{Part, part};
use super::patches::{Patch, patches};
use crate::bench::Bench;
use crate::look::heat;
use crate::looking::scale_mm;
use crate::step::Step;
use crate::view::View;

/// The shell on the stage.
#[derive(Resource, Default)]
pub struct ShellOnStage {
    shown: Option<Worn>,
    making: Task<(Worn, Vec<(Mesh, Part)>)>,
}

/// A shell, and what colours it.
#[derive(Clone)]
struct Worn {
    shell: Arc<shell::Shell>,
    dress: Dress,
    family: Family,
}

/// A part of the shell.
#[derive(Component)]
pub struct ShellPart;

impl ShellOnStage {
    /// Whether a shell is there.
    pub fn is_shown(&self) -> bool {
        self.shown.is_some()
    }
}

/// What colours it.
#[derive(Clone, PartialEq)]
enum Dress {
    Plain,
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

/// Puts the best shell there is on the stage, from the shell step on; the one before it stays until it is ready.
pub fn stand(
    mut commands: Commands,
    bench: Res<Bench>,
    view: Res<View>,
    mut stage: ResMut<ShellOnStage>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<StandardMaterial>>,
    old: Query<Entity, With<ShellPart>>,
) {
    let stage = stage.bypass_change_detection();
    let Some(wanted) = wanted(&bench, &view) else {
        stage.making.cancel();
        if stage.shown.take().is_some() {
            old.iter().for_each(|entity| commands.entity(entity).despawn());
        }
        return;
    };
    if let Some(Outcome::Done((made, parts))) = stage.making.take() {
        old.iter().for_each(|entity| commands.entity(entity).despawn());
        let base = if made.dress.has_colours() { Color::WHITE } else { plain(made.family) };
        let rough = if made.family == Family::Flexible { 0.7 } else { 0.45 };
        let material = materials.add(StandardMaterial { base_color: base, perceptual_roughness: rough, ..default() });
        for (mesh, part) in parts {
            commands.spawn((ShellPart, part, Mesh3d(meshes.add(mesh)), MeshMaterial3d(material.clone())));
        }
        stage.shown = Some(made);
    }
    let same = stage.shown.as_ref().is_some_and(|shown| shown.is(&wanted));
    // One that is being made is finished first, so that something is seen while a slider moves.
    if !same && !stage.making.is_running() {
        stage.making.start(move |_| {
            let parts = parts(&wanted);
            (wanted, parts)
        });
    }
}

/// What is to be seen.
fn wanted(bench: &Bench, view: &View) -> Option<Worn> {
    if matches!(view.step, Step::Scan | Step::Zone) {
        return None;
    }
    let derived = bench.session.derived();
    let design = bench.session.design()?;
    let dress = if view.step == Step::Fit && view.looking.heat {
        Dress::Gap(derived.clearance_now(design).cloned(), scale_mm(design.shell.gap_mm).to_bits())
    } else {
        Dress::Plain
    };
    Some(Worn { shell: Arc::clone(derived.best_shell(design)?), dress, family: design.material })
}

impl Worn {
    fn is(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.shell, &other.shell) && self.family == other.family && self.dress.is(&other.dress)
    }
}

/// The parts of a shell. On a thread of its own.
fn parts(worn: &Worn) -> Vec<(Mesh, Part)> {
    let mesh = &worn.shell.mesh;
    let normals = mesh.vertex_normals();
    let colours = match &worn.dress {
        Dress::Gap(Some(gap), scale) => Some(gap_colours(mesh, gap, f32::from_bits(*scale), plain(worn.family))),
        Dress::Plain | Dress::Gap(None, _) => None,
    };
    let of = |patch: &Patch| {
        let own = patch.vertices.iter();
        let colours = colours.as_ref().map(|colours| own.clone().map(|v| colours[*v as usize]).collect());
        part(mesh, patch, own.map(|v| normals[*v as usize].into()).collect(), colours)
    };
    patches(mesh).iter().map(of).collect()
}

impl Dress {
    fn has_colours(&self) -> bool {
        matches!(self, Self::Gap(Some(_), _))
    }

    fn is(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Gap(Some(a), s), Self::Gap(Some(b), t)) => Arc::ptr_eq(a, b) && s == t,
            (Self::Gap(None, _), Self::Gap(None, _)) => true,
            (Self::Plain, Self::Plain) => true,
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
