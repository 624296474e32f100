//! The limb on the stage: its chunks and their colours.

use std::collections::VecDeque;
use std::sync::Arc;

use bevy::prelude::*;
use engine::{LimbOnAxes, StrengthMap, scale_of};
use session::{Outcome, Task};

use super::chunk_mesh::{Extent, chunk_mesh};
use super::chunks::Chunk;
use super::even_light::{SkinMaterial, skin};
use super::shade::Shade;
use super::skin::{Measured, SkinOnStage};
use super::zone::Stroke;
use crate::state::{Bench, Step, View};

/// Most chunks sent in one frame; a dab touches fewer.
const MOST_SENT: usize = 24;

/// Chunks that are put on the stage in one frame.
const MOST_PUT: usize = 12;

/// The limb as it stands on the stage.
#[derive(Resource, Default)]
pub struct LimbOnStage {
    /// Serial of the limb that was asked for.
    serial: u64,
    making: Task<ReadyLimb>,
    /// Chunks that are still to be put on the stage.
    coming: VecDeque<(Mesh, Extent)>,
    /// The limb that they are of.
    limb: Option<Arc<LimbOnAxes>>,
    material: Handle<SkinMaterial>,
    meshes: Vec<Handle<Mesh>>,
    /// The limb whose chunks all stand.
    whole: Option<Arc<LimbOnAxes>>,
    /// It became whole in this frame.
    pub came: bool,
    /// Serials of the sketch and the zone last looked at.
    seen: Option<(u64, u64)>,
    /// Serial of the shading last taken.
    shade: u64,
    /// What its skin shows.
    skin: SkinOnStage,
}

/// A limb cut into chunks, ready for the stage.
struct ReadyLimb {
    limb: Arc<LimbOnAxes>,
    skin: SkinOnStage,
    chunks: Vec<(Mesh, Extent)>,
}

impl LimbOnStage {
    /// The limb, once all of it stands, and what its skin shows.
    pub fn standing(&mut self) -> Option<(&Arc<LimbOnAxes>, &mut SkinOnStage)> {
        self.whole.as_ref().map(|limb| (limb, &mut self.skin))
    }

    /// Whether a part waits for the others of its limb.
    pub fn hides(&self, part: &LimbChunk) -> bool {
        part.0 == self.serial && self.whole.is_none()
    }

    /// Whether parts of a limb, or of its colours, are still to be put on the stage.
    pub fn is_coming(&self) -> bool {
        !self.coming.is_empty() || (self.whole.is_some() && self.skin.is_changing())
    }

    /// Whether all of the newest limb is on the stage.
    pub fn is_whole(&self) -> bool {
        self.whole.is_some()
    }
}

/// Puts a new limb on the stage, some chunks a frame. The one before it stays in sight until then.
pub fn stand(
    mut commands: Commands,
    bench: Res<Bench>,
    mut shown: ResMut<LimbOnStage>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<SkinMaterial>>,
    old: Query<(Entity, &LimbChunk)>,
) {
    let limb = &bench.session.derived().limb;
    let shown = shown.bypass_change_detection();
    shown.came = false;
    if limb.serial() != shown.serial {
        *shown = LimbOnStage { serial: limb.serial(), ..LimbOnStage::default() };
        let Some(limb) = limb.value().cloned() else {
            old.iter().for_each(|(entity, _)| commands.entity(entity).despawn());
            return;
        };
        shown.making.start(move |_| made(limb));
    }
    if let Some(Outcome::Done(made)) = shown.making.take() {
        shown.skin = made.skin;
        shown.coming = made.chunks.into();
        shown.limb = Some(made.limb);
        shown.material = materials.add(skin());
    }
    for _ in 0..MOST_PUT {
        let Some((mesh, part)) = shown.coming.pop_front() else { break };
        let mesh = meshes.add(mesh);
        shown.meshes.push(mesh.clone());
        let of = LimbChunk(shown.serial);
        commands.spawn((of, part, Visibility::Hidden, Mesh3d(mesh), MeshMaterial3d(shown.material.clone())));
    }
    if shown.coming.is_empty()
        && let Some(limb) = shown.limb.take()
    {
        shown.whole = Some(limb);
        shown.came = true;
        let before = old.iter().filter(|(_, part)| part.0 != shown.serial);
        before.for_each(|(entity, _)| commands.entity(entity).despawn());
    }
}

/// A part of the limb of this serial.
#[derive(Component)]
pub struct LimbChunk(pub u64);

/// Brings the colours up to date where something changed.
pub fn colour(
    bench: Res<Bench>,
    view: Res<View>,
    shade: Res<Shade>,
    mut shown: ResMut<LimbOnStage>,
    mut stroke: ResMut<Stroke>,
    mut meshes: ResMut<Assets<Mesh>>,
) {
    let derived = bench.session.derived();
    let Some(design) = bench.session.design() else { return };
    let shown = shown.bypass_change_detection();
    let Some(limb) = &shown.whole else { return };
    let serials = (derived.sketch.serial(), derived.zone.serial());
    if shown.seen != Some(serials) {
        shown.seen = Some(serials);
        let sketch = derived.sketch_now(design);
        let covered = derived.zone_now(design).map(|z| &z.covered.distance_mm).or(sketch.map(|s| &s.covered_mm));
        let nothing = design.zone.sources.is_empty() && design.zone.regions.is_empty();
        // Results of an earlier state are skipped: the brush has already shown more.
        if covered.is_some() || nothing {
            let kinds = design.zone.regions.iter().map(|r| r.kind);
            let depths = sketch.map_or(&[][..], |s| &s.regions_mm);
            if sketch.is_some() || nothing {
                let regions: Vec<_> = kinds.zip(depths.iter().map(Vec::as_slice)).collect();
                shown.skin.show(covered.map(Vec::as_slice), &regions);
                stroke.brush.forget();
            }
        }
    }
    if shown.shade != shade.serial {
        shown.shade = shade.serial;
        shown.skin.shade(&shade.factors);
    }
    // From the material step on, the guard itself is looked at.
    shown.skin.bare(view.step >= Step::Material);
    shown.skin.measured(pressures(&bench, &view));
    for (i, colours) in shown.skin.take_changed(&limb.skin, MOST_SENT) {
        if let Some(mut mesh) = shown.meshes.get(i).and_then(|m| meshes.get_mut(m)) {
            mesh.insert_attribute(Mesh::ATTRIBUTE_COLOR, colours);
        }
    }
}

/// The pressure on the skin while it is looked at, and the end of its scale.
fn pressures(bench: &Bench, view: &View) -> Option<Measured> {
    let looks = view.step == Step::Material && view.material.map == Some(StrengthMap::Pressure);
    let design = bench.session.design().filter(|_| looks)?;
    let map = bench.session.derived().strength_map_now(design)?;
    Some(Measured { map: Arc::clone(map), scale: scale_of(map.values.map, map.values.most) })
}

/// Cuts a limb into chunks; runs on another thread.
fn made(limb: Arc<LimbOnAxes>) -> ReadyLimb {
    let surface = &limb.skin;
    let skin = SkinOnStage::new(surface);
    let of = |(i, chunk): (usize, &Chunk)| {
        let normals = chunk.vertices.iter().map(|v| surface.vertex_normals()[*v as usize].into()).collect();
        chunk_mesh(surface.mesh(), chunk, normals, Some(skin.colours(surface, i)))
    };
    let chunks = skin.chunks().iter().enumerate().map(of).collect();
    ReadyLimb { limb, skin, chunks }
}
