//! What is drawn on the skin in the zone step: the ring of the brush, outlines with their corners, the pen line.

use bevy::asset::RenderAssetUsages;
use bevy::mesh::{Indices, PrimitiveTopology};
use bevy::prelude::*;
use mesh::geodesic::path;
use mesh::{Job, Surface};
use nalgebra::Point3;
use scan::pen::PenFinding;
use session::marking::{self, Target};
use zone::Source;

use crate::stage::assets::StageAssets;
use crate::stage::pointer::Pointer;
use crate::stage::ribbon::{LineStyle, Ribbons, ring};
use crate::state::{Bench, Step, Tool, View};

const INK: [f32; 3] = [0.02, 0.018, 0.015];
const PAPER: [f32; 3] = [0.95, 0.93, 0.88];
const ACCENT: [f32; 3] = [0.012, 0.147, 0.133];
const ERASE: [f32; 3] = [0.33, 0.03, 0.013];

/// The lines on the skin.
#[derive(Component)]
pub struct Lines {
    mesh: Handle<Mesh>,
    shown: Ribbons,
}

/// Shortest paths over the skin between corners, found once.
#[derive(Default)]
pub struct Ways {
    limb: u64,
    #[allow(clippy::type_complexity)]
    known: Vec<(Point3<f32>, Point3<f32>, Vec<Point3<f32>>, bool)>,
}

impl Ways {
    /// The shortest path from one corner to another over the skin; a straight line if there is none.
    fn leg(&mut self, skin: &Surface, a: &Point3<f32>, b: &Point3<f32>) -> Vec<Point3<f32>> {
        if let Some(known) = self.known.iter_mut().find(|k| k.0 == *a && k.1 == *b) {
            known.3 = true;
            return known.2.clone();
        }
        let line = skin
            .nearest(a, None)
            .zip(skin.nearest(b, None))
            .and_then(|(from, to)| path(skin, &from, &to, &Job::silent()).ok())
            .map_or_else(|| vec![*a, *b], |line| line.points);
        self.known.push((*a, *b, line.clone(), true));
        line
    }

    fn through(&mut self, skin: &Surface, corners: &[Point3<f32>], closed: bool) -> Vec<Point3<f32>> {
        let legs = if closed { corners.len() } else { corners.len().saturating_sub(1) };
        (0..legs).flat_map(|i| self.leg(skin, &corners[i], &corners[(i + 1) % corners.len()])).collect()
    }
}

/// Draws the lines again if they differ.
pub fn draw(
    mut commands: Commands,
    mut assets: StageAssets,
    mut ways: Local<Ways>,
    bench: Res<Bench>,
    view: Res<View>,
    pointer: Res<Pointer>,
    mut lines: Query<&mut Lines>,
) {
    let mut wanted = Ribbons::default();
    if view.step == Step::Zone {
        let derived = bench.session.derived();
        if ways.limb != derived.limb.serial() {
            *ways = Ways { limb: derived.limb.serial(), ..Ways::default() };
        }
        if let Some(limb) = derived.limb.value() {
            ways.known.iter_mut().for_each(|k| k.3 = false);
            add_lines(&mut wanted, &limb.skin, &mut ways, &bench, &view, &pointer);
            ways.known.retain(|k| k.3);
        }
    }
    let Ok(mut lines) = lines.single_mut() else {
        let mesh = assets.meshes.add(mesh_of(&wanted));
        let material = assets.materials.add(StandardMaterial { unlit: true, cull_mode: None, ..default() });
        commands.spawn((Lines { mesh: mesh.clone(), shown: wanted }, Mesh3d(mesh), MeshMaterial3d(material)));
        return;
    };
    if lines.shown != wanted
        && let Some(mut mesh) = assets.meshes.get_mut(&lines.mesh)
    {
        *mesh = mesh_of(&wanted);
        lines.shown = wanted;
    }
}

fn add_lines(out: &mut Ribbons, skin: &Surface, ways: &mut Ways, bench: &Bench, view: &View, pointer: &Pointer) {
    let Some(design) = bench.session.design() else { return };
    let unit_mm = pointer.unit_mm.clamp(0.02, 4.0);
    let pen = |core, dash_mm| LineStyle { core, border: PAPER, width_mm: 1.8 * unit_mm, dash_mm };
    // The pen line, unless it is the edge of the zone already.
    let taken = |line: &[Point3<f32>]| {
        design.zone.sources.iter().any(|s| matches!(s, Source::Line { points_mm, .. } if points_mm.as_slice() == line))
    };
    match bench.session.derived().pen.value().map(|f| &**f) {
        Some(PenFinding::Closed(line)) if !taken(&line.centre) => out.line(skin, &line.centre, true, &pen(INK, 4.0)),
        Some(PenFinding::Open { line, proposal, .. }) if !proposal.as_ref().is_some_and(|p| taken(&p.line.centre)) => {
            out.line(skin, line, false, &pen(INK, 0.0));
            if let Some(proposal) = proposal {
                out.line(skin, &proposal.added, false, &pen(ACCENT, 3.0));
            }
        }
        _ => {}
    }
    // Bony points that are offered as reliefs.
    for point in bench.session.derived().bare_bony_points(design) {
        if let Some(hit) = skin.nearest(&point.at_mm, None) {
            out.line(skin, &ring(skin, &hit, point.radius_mm), true, &pen(ACCENT, 2.0));
        }
    }
    // Outlines of everything, corners of what is aimed at.
    let target = view.zone.target(&design.zone);
    let corner_mm = 5.0 * unit_mm;
    let corner = |out: &mut Ribbons, p: &Point3<f32>, colour| {
        let normal = skin.nearest(p, None).map(|h| skin.normal_at(&h)).unwrap_or_default();
        out.spot(p, &normal, 1.5 * corner_mm, PAPER, 0.6);
        out.spot(p, &normal, corner_mm, colour, 0.8);
    };
    let all = (0..design.zone.regions.len()).map(Target::Region).chain([Target::Zone]);
    for of in all {
        for source in of.sources(&design.zone).unwrap_or_default() {
            if let Source::Outline { corners_mm, .. } = source {
                out.line(skin, &ways.through(skin, corners_mm, true), true, &pen(ACCENT, 0.0));
            }
        }
        if Some(of) == target && view.tool == Tool::Outline && view.zone.open.is_empty() {
            for (number, p) in marking::corners(&design.zone, of) {
                let chosen = view.zone.selected == Some(number);
                corner(out, &p, if chosen { ERASE } else { ACCENT });
            }
        }
    }
    let open = &view.zone.open;
    out.line(skin, &ways.through(skin, open, false), false, &pen(ACCENT, 0.0));
    if let Some((last, hit)) = open.last().zip(pointer.hit.as_ref()) {
        let leg = ways.leg(skin, last, &hit.point);
        out.line(skin, &leg, false, &pen(ACCENT, 3.0));
    }
    for (i, p) in open.iter().enumerate() {
        corner(out, p, if i == 0 { INK } else { ACCENT });
    }
    // The ring of the brush.
    if let Some(hit) = pointer.hit.as_ref().filter(|_| !pointer.turning) {
        let core = match view.tool {
            Tool::Paint => INK,
            Tool::Erase => ERASE,
            Tool::Turn | Tool::Outline | Tool::Crease => return,
        };
        let line = ring(skin, hit, view.brush_mm);
        out.line(skin, &line, true, &pen(core, if view.tool == Tool::Erase { 4.0 } else { 0.0 }));
    }
}

fn mesh_of(ribbons: &Ribbons) -> Mesh {
    // The graphics card takes no mesh without a triangle.
    let nothing = Ribbons { points: vec![[0.0; 3]; 3], colours: vec![[0.0; 4]; 3], indices: vec![0, 1, 2] };
    let ribbons = if ribbons.indices.is_empty() { &nothing } else { ribbons };
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::default())
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, ribbons.points.clone())
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, vec![[0.0_f32, 0.0, 1.0]; ribbons.points.len()])
        .with_inserted_attribute(Mesh::ATTRIBUTE_COLOR, ribbons.colours.clone())
        .with_inserted_indices(Indices::U32(ribbons.indices.clone()))
}
