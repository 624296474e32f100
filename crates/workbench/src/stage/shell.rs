//! The shell on the stage.

use std::collections::HashSet;
use std::sync::Arc;

use bevy::prelude::*;
use engine::{StrengthMap, scale_of};
use fit::Clearance;
use locker::{Appearance, Finish};
use session::{DrawnMap, Outcome, Task};

use super::chunk_mesh::{Extent, chunk_mesh};
use super::chunks::{Chunk, chunks};
use super::shade::shade_of_shell;
use super::show::plastic;
use crate::look::heat;
use crate::state::fit::scale_mm;
use crate::state::{Bench, Step, View};

/// The shell on the stage.
#[derive(Resource, Default)]
pub struct ShellOnStage {
    shown: Option<Worn>,
    making: Task<ReadyShell>,
    /// How much lighter or darker each vertex of the shell is, found once for it.
    shade: Option<(Arc<shell::Shell>, Arc<Vec<f32>>)>,
}

/// A shell in parts, ready for the stage.
struct ReadyShell {
    worn: Worn,
    shade: Arc<Vec<f32>>,
    pieces: Vec<Piece>,
}

/// A shell, and what colours it.
#[derive(Clone)]
struct Worn {
    shell: Arc<shell::Shell>,
    colouring: Colouring,
    colour: [u8; 3],
    inlay_colour: [u8; 3],
    finish: Finish,
}

/// A part of the shell.
#[derive(Component)]
pub struct ShellChunk;

impl ShellOnStage {
    /// Whether a shell is there.
    pub fn is_shown(&self) -> bool {
        self.shown.is_some()
    }

    /// How much lighter or darker each vertex of a shell is, if that has been found.
    pub fn shade_of(&self, shell: &Arc<shell::Shell>) -> Option<Arc<Vec<f32>>> {
        self.shade.as_ref().filter(|(of, _)| Arc::ptr_eq(of, shell)).map(|(_, shade)| Arc::clone(shade))
    }
}

/// What colours it.
#[derive(Clone)]
enum Colouring {
    Plain,
    /// The gap, once it is measured, and the bits of the value at the end of the scale, mm.
    Gap(Option<Arc<Clearance>>, u32),
    /// What a blow does to it, and the bits of the value at the end of the scale.
    Blow(Arc<DrawnMap>, u32),
}

/// Puts the best shell there is on the stage, from the shell step on; the one before it stays until it is ready.
pub fn stand(
    mut commands: Commands,
    bench: Res<Bench>,
    view: Res<View>,
    mut stage: ResMut<ShellOnStage>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<StandardMaterial>>,
    old: Query<Entity, With<ShellChunk>>,
) {
    let stage = stage.bypass_change_detection();
    let Some(wanted) = wanted(&bench, &view) else {
        stage.making.cancel();
        if stage.shown.take().is_some() {
            old.iter().for_each(|entity| commands.entity(entity).despawn());
        }
        return;
    };
    if let Some(Outcome::Done(ReadyShell { worn: made, shade, pieces })) = stage.making.take() {
        stage.shade = Some((Arc::clone(&made.shell), shade));
        old.iter().for_each(|entity| commands.entity(entity).despawn());
        let let_in = materials.add(plastic(made.inlay_colour, made.finish));
        let plastic = materials.add(plastic(made.colour, made.finish));
        // Unlit, so that the colours are those of the legend.
        let measured = materials.add(StandardMaterial { unlit: true, ..default() });
        for (mesh, part, of) in pieces {
            let material = match of {
                Coat::Plain => plastic.clone(),
                Coat::Measured => measured.clone(),
                Coat::Inlay => let_in.clone(),
            };
            commands.spawn((ShellChunk, part, Mesh3d(meshes.add(mesh)), MeshMaterial3d(material)));
        }
        stage.shown = Some(made);
    }
    let same = stage.shown.as_ref().is_some_and(|shown| shown.is(&wanted));
    // One that is being made is finished first, so that something is seen while a slider moves.
    if !same && !stage.making.is_running() {
        let known = stage.shade_of(&wanted.shell);
        stage.making.start(move |job| {
            let shade = known.unwrap_or_else(|| shade_of_shell(&wanted.shell.mesh, job));
            ReadyShell { pieces: pieces(&wanted, &shade), shade, worn: wanted }
        });
    }
}

/// What the stage should show; none in the scan and zone steps.
fn wanted(bench: &Bench, view: &View) -> Option<Worn> {
    if matches!(view.step, Step::Scan | Step::Zone) {
        return None;
    }
    let derived = bench.session.derived();
    let design = bench.session.design()?;
    let shell = derived.best_shell(design)?;
    let map = view.material.map.filter(|_| view.step == Step::Material);
    if map == Some(StrengthMap::Pressure) && derived.strength_map_now(design).is_some() {
        // The skin under it is looked at.
        return None;
    }
    let blow = map.and_then(|_| derived.strength_map_now(design)).filter(|map| Arc::ptr_eq(&map.shell, shell));
    let colouring = match blow {
        _ if view.step == Step::Fit && view.fit.heat => {
            Colouring::Gap(derived.clearance_now(design).cloned(), scale_mm(design.shell.gap_mm).to_bits())
        }
        Some(map) => Colouring::Blow(Arc::clone(map), scale_of(map.values.map, map.values.most).to_bits()),
        None => Colouring::Plain,
    };
    // One colour from here to the last step: that of the athlete's choice.
    let coat = |look: &Appearance| (look.colour, look.inlay_colour, look.finish);
    let (colour, inlay_colour, finish) = design.look.as_ref().map_or_else(|| coat(&Appearance::default()), coat);
    Some(Worn { shell: Arc::clone(shell), colouring, colour, inlay_colour, finish })
}

impl Worn {
    fn is(&self, other: &Self) -> bool {
        let same_coat =
            (self.colour, self.inlay_colour, self.finish) == (other.colour, other.inlay_colour, other.finish);
        Arc::ptr_eq(&self.shell, &other.shell) && same_coat && self.colouring.is(&other.colouring)
    }
}

/// Which face of the shell a part is of.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Coat {
    /// Seen in its plain colour.
    Plain,
    /// Where it faces the skin, with the gap in colours.
    Measured,
    /// A number that is let in.
    Inlay,
}

/// A part with its mesh and its face.
type Piece = (Mesh, Extent, Coat);

/// The pieces of a shell; runs on another thread.
fn pieces(worn: &Worn, shade: &[f32]) -> Vec<Piece> {
    let mesh = &worn.shell.mesh;
    let normals = mesh.shading_normals();
    let shade: Vec<[f32; 4]> = shade.iter().map(|factor| [*factor, *factor, *factor, 1.0]).collect();
    let mut inlay: Vec<Piece> = Vec::new();
    if let Some(body) = &worn.shell.inlay {
        let normals = body.mesh.shading_normals();
        for chunk in chunks(&body.mesh) {
            let own: Vec<usize> = chunk.vertices.iter().map(|v| *v as usize).collect();
            let normals = own.iter().map(|v| normals[*v].into()).collect();
            let (mesh, part) = chunk_mesh(&body.mesh, &chunk, normals, None);
            inlay.push((mesh, part, Coat::Inlay));
        }
    }
    let of = |mesh: &mesh::Mesh, colours: &[[f32; 4]], face: Coat| -> Vec<Piece> {
        let one = |chunk: &Chunk| {
            let own = chunk.vertices.iter().map(|v| *v as usize);
            let colours = own.clone().map(|v| colours.get(v).copied()).collect();
            let (mesh, part) = chunk_mesh(mesh, chunk, own.map(|v| normals[v].into()).collect(), colours);
            (mesh, part, face)
        };
        chunks(mesh).iter().map(one).collect()
    };
    if let Colouring::Blow(map, scale) = &worn.colouring {
        inlay.extend(of(mesh, &value_colours(&map.values.guard, f32::from_bits(*scale)), Coat::Measured));
        return inlay;
    }
    let Colouring::Gap(Some(gap), scale) = &worn.colouring else {
        inlay.extend(of(mesh, &shade, Coat::Plain));
        return inlay;
    };
    let measured: HashSet<u32> = gap.inner.triangles.iter().copied().collect();
    let split = |inner: bool| {
        let triangles = mesh.triangles.iter().enumerate();
        let kept = triangles.filter(|(t, _)| measured.contains(&(*t as u32)) == inner).map(|(_, t)| *t).collect();
        mesh::Mesh::new(mesh.points.clone(), kept)
    };
    let mut pieces = inlay;
    pieces.extend(of(&split(false), &shade, Coat::Plain));
    pieces.extend(of(&split(true), &value_colours(&gap.distance_mm, f32::from_bits(*scale)), Coat::Measured));
    pieces
}

impl Colouring {
    fn is(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Gap(Some(a), s), Self::Gap(Some(b), t)) => Arc::ptr_eq(a, b) && s == t,
            (Self::Gap(None, _), Self::Gap(None, _)) => true,
            (Self::Blow(a, s), Self::Blow(b, t)) => Arc::ptr_eq(a, b) && s == t,
            (Self::Plain, Self::Plain) => true,
            _ => false,
        }
    }
}

/// The value at each vertex in colours.
fn value_colours(values: &[f32], scale: f32) -> Vec<[f32; 4]> {
    let colour = |value: &f32| {
        let [r, g, b] = heat::linear(value / scale);
        [r, g, b, 1.0]
    };
    values.iter().map(colour).collect()
}
