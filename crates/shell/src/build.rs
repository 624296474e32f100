//! From zone and design to a proven solid.

use mesh::solid::{self, SolidReport};
use mesh::{Job, Mesh, Surface, simplify};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use zone::Zone;

use crate::profile::Wall;
use crate::surface::{Grid, TrackError, track};
use crate::{Design, Field, Layout, ShellError, arrange, width};

/// How finely a shell is made.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Quality {
    /// Distance between grid points, mm. 0.2 to 2; 0.5 for printing, 1.5 for a first look.
    pub voxel_mm: f32,
    /// How far simplification may move the surface, mm. 0 keeps every triangle.
    pub tolerance_mm: f32,
}

impl Quality {
    /// For an answer while a slider moves: a coarse grid, and all its triangles, as simplifying would take longer than
    /// it saves. Proven like any other.
    pub const FIRST_LOOK: Self = Self { voxel_mm: 1.5, tolerance_mm: 0.0 };
}

impl Default for Quality {
    fn default() -> Self {
        Self { voxel_mm: 0.5, tolerance_mm: 0.02 }
    }
}

/// A finished shell.
#[derive(Debug, Clone, PartialEq)]
pub struct Shell {
    /// The solid, in limb axes.
    pub mesh: Mesh,
    /// What was laid out on the skin.
    pub layout: Layout,
    /// The proof that the mesh is a printable solid.
    pub proof: SolidReport,
    /// Grid points at which the distance to the skin was worked out; those on the border of two blocks count twice.
    pub grid_samples: usize,
    /// What had to give way, one sentence each.
    pub notices: Vec<String>,
}

/// Largest grid cell as a part of the thinnest wall: a wall at least one cell thick is met on every line across it.
const CELLS_TO_A_WALL: f32 = 0.8;
/// Pieces smaller than this share of the whole are crumbs that the print does without.
const CRUMB: f64 = 0.01;
/// Rounds of simplifying with the neighbourhood of crossings kept before all triangles are kept.
const ROUNDS: usize = 3;
/// Steps of the raster on which points lie, in 1 mm.
const RASTER_PER_MM: f32 = 16384.0;
/// Seeds are taken where the skin is covered, and this far beyond the trim line, mm.
const BEYOND_TRIM_MM: f32 = 1.0;

/// Builds the shell of `design` on `zone` of `skin`, and proves it.
///
/// # Errors
/// [`ShellError::CannotBuild`] naming the setting and place, or that it was cancelled.
pub fn build(skin: &Surface, zone: &Zone, design: &Design, quality: &Quality, job: &Job) -> Result<Shell, ShellError> {
    job.step("laying out ribs, vents and fittings", 0.0)?;
    let narrow = width::check(skin, zone, design)?;
    let mut layout = arrange(skin, zone, design, &job.part(0.0, 0.15))?;
    layout.notices.splice(0..0, narrow);
    build_layout(skin, zone, design, layout, quality, &job.part(0.15, 1.0))
}

/// Builds the shell over a layout that was made before for the same zone and design.
///
/// # Errors
/// As [`build`].
pub fn build_layout(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    layout: Layout,
    quality: &Quality,
    job: &Job,
) -> Result<Shell, ShellError> {
    job.step("making the surface", 0.0)?;
    let field = Field::new(skin, zone, design, &layout);
    let mut notices = layout.notices.clone();
    let voxel_mm = fine_enough(design, &layout, quality.voxel_mm, &mut notices);
    let (grid, seeds) = grid_and_seeds(&field, zone, voxel_mm);
    let tracked = track(&grid, &|p: &Point3<f32>, seed| field.value(p, seed), &seeds, job).map_err(|e| match e {
        TrackError::Cancelled(c) => ShellError::Cancelled(c),
        TrackError::LeavesBox(place) => ShellError::CannotBuild {
            setting: "zone".into(),
            place,
            what: "the shell has no end there, the zone runs off the scanned skin".into(),
            cure: "Shrink the zone or keep it a few millimetres from the scan's border.".into(),
        },
    })?;
    let whole = one_piece(tracked.mesh, &layout, &mut notices)?;
    job.step("simplifying", 0.5)?;
    let (mesh, proof) = simplify_and_prove(&on_raster(whole), quality.tolerance_mm, &job.part(0.5, 1.0))?;
    Ok(Shell { mesh, layout, proof, grid_samples: tracked.grid_samples, notices })
}

/// The grid cell asked for, or a smaller one where the thinnest wall would slip between grid points.
fn fine_enough(design: &Design, layout: &Layout, asked_mm: f32, notices: &mut Vec<String>) -> f32 {
    let between_openings = if layout.cuts.is_empty() { f32::INFINITY } else { crate::fitting::MIN_LIGAMENT_MM };
    let most = CELLS_TO_A_WALL * design.thickness_mm.min(between_openings);
    if asked_mm <= most {
        return asked_mm;
    }
    notices.push(format!(
        "The surface was made on a grid of {most:.2} mm instead of {asked_mm:.2} mm, for its thinnest walls."
    ));
    most
}

/// A box that holds the shell, and points on both faces to start from.
fn grid_and_seeds(field: &Field<'_>, zone: &Zone, voxel_mm: f32) -> (Grid, Vec<Point3<f32>>) {
    let skin = field.skin();
    let (points, normals) = (&skin.mesh().points, skin.vertex_normals());
    let edges = zone.covered.distance_mm.iter().take(points.len()).zip(0_u32..);
    let covered: Vec<u32> = edges.filter(|(edge, _)| **edge >= -BEYOND_TRIM_MM).map(|(_, v)| v).collect();
    let walls: Vec<Option<(f32, Wall)>> =
        covered.par_iter().map(|v| field.on_vertex(*v).map(|hit| field.at(&hit))).collect();
    let mut seeds = Vec::new();
    let (mut lo, mut hi) = (Point3::from([f32::INFINITY; 3]), Point3::from([f32::NEG_INFINITY; 3]));
    for (v, (edge, wall)) in covered.iter().zip(walls).filter_map(|(v, wall)| Some((*v as usize, wall?))) {
        let reach = Vector3::repeat(wall.outer_mm + 2.0);
        lo = lo.inf(&(points[v] - reach));
        hi = hi.sup(&(points[v] + reach));
        if edge > wall.round_mm {
            seeds.push(points[v] + normals[v] * wall.inner_mm);
            seeds.push(points[v] + normals[v] * wall.outer_mm);
        }
    }
    let margin = Vector3::repeat(2.0 * voxel_mm);
    if seeds.is_empty() {
        (lo, hi) = (Point3::origin(), Point3::origin());
    }
    (Grid::new(lo - margin, hi + margin, voxel_mm), seeds)
}

/// Drops crumbs; refuses a shell that falls into large pieces.
fn one_piece(raw: Mesh, layout: &Layout, notices: &mut Vec<String>) -> Result<Mesh, ShellError> {
    let (piece, count) = pieces(&raw);
    let mut volumes = vec![0.0_f64; count];
    for (t, p) in piece.iter().enumerate() {
        let [a, b, c] = raw.corners(t).map(|p| p.coords.cast::<f64>());
        volumes[*p as usize] += a.dot(&b.cross(&c)) / 6.0;
    }
    let total: f64 = volumes.iter().map(|v| v.abs()).sum();
    let Some(largest) = (0..count).max_by(|a, b| volumes[*a].total_cmp(&volumes[*b])) else {
        return Err(ShellError::CannotBuild {
            setting: "shell".into(),
            place: Point3::origin(),
            what: "nothing is left of the wall".into(),
            cure: "Make the vents smaller or the zone larger.".into(),
        });
    };
    let second = (0..count).filter(|p| *p != largest).max_by(|a, b| volumes[*a].total_cmp(&volumes[*b]));
    if let Some(second) = second.filter(|p| volumes[*p] > CRUMB * total) {
        let at = piece.iter().position(|p| *p as usize == second).unwrap_or(0);
        let (setting, cure) = if layout.cuts.is_empty() {
            ("zone", "Join the parts of the zone, or make a guard of each.")
        } else {
            ("shell.vents", "Leave more wall: a larger ligament, smaller or fewer openings.")
        };
        return Err(ShellError::CannotBuild {
            setting: setting.into(),
            place: raw.corners(at)[0],
            what: "the shell falls into separate pieces".into(),
            cure: cure.into(),
        });
    }
    if count > 1 {
        notices.push(format!("{} loose crumbs were left out of the shell.", count - 1));
    }
    if count == 1 {
        return Ok(raw);
    }
    let mut number = vec![u32::MAX; raw.points.len()];
    let mut points = Vec::new();
    let mut triangles = Vec::new();
    for (corners, _) in raw.triangles.iter().zip(&piece).filter(|(_, p)| **p as usize == largest) {
        triangles.push(corners.map(|v| {
            if number[v as usize] == u32::MAX {
                number[v as usize] = points.len() as u32;
                points.push(raw.points[v as usize]);
            }
            number[v as usize]
        }));
    }
    Ok(Mesh::new(points, triangles))
}

/// Numbers the pieces of a mesh whose pieces share no vertex: for each triangle its piece, and how many there are.
fn pieces(raw: &Mesh) -> (Vec<u32>, usize) {
    let mut parent: Vec<u32> = (0..raw.points.len() as u32).collect();
    let root = |parent: &mut [u32], mut v: u32| {
        while parent[v as usize] != v {
            // Halving the way keeps it short.
            parent[v as usize] = parent[parent[v as usize] as usize];
            v = parent[v as usize];
        }
        v
    };
    for [a, b, c] in &raw.triangles {
        for other in [b, c] {
            let (x, y) = (root(&mut parent, *a), root(&mut parent, *other));
            parent[x.max(y) as usize] = x.min(y);
        }
    }
    let mut number = vec![u32::MAX; raw.points.len()];
    let mut count = 0;
    let piece = raw.triangles.iter().map(|[a, ..]| {
        let number = &mut number[root(&mut parent, *a) as usize];
        if *number == u32::MAX {
            *number = count;
            count += 1;
        }
        *number
    });
    (piece.collect(), count as usize)
}

/// Points rounded to 1/16384 mm. Within a metre of the origin that leaves bits to spare in f32, so the shell can be moved
/// by such steps, as onto a printer's bed, without rounding again: what was proven here is what is written there.
fn on_raster(mut mesh: Mesh) -> Mesh {
    mesh.points.par_iter_mut().for_each(|p| p.coords.apply(|x| *x = (*x * RASTER_PER_MM).round() / RASTER_PER_MM));
    mesh
}

/// Simplifies within the tolerance; where triangles come to cross, their neighbourhood is kept as it was.
fn simplify_and_prove(whole: &Mesh, tolerance_mm: f32, job: &Job) -> Result<(Mesh, SolidReport), ShellError> {
    let mut locked = vec![false; whole.points.len()];
    let mut report = None;
    for round in 0..ROUNDS {
        if tolerance_mm <= 0.0 {
            break;
        }
        job.step("simplifying", 0.2 * round as f32)?;
        let simpler = on_raster(simplify::simplify(whole, tolerance_mm, &locked, job)?.mesh);
        job.step("proving the solid", 0.2 * round as f32 + 0.1)?;
        let proof = solid::check(&simpler, job)?;
        if proof.is_solid() {
            return Ok((simpler, proof));
        }
        let mut centres: Vec<Point3<f32>> = solid::self_intersections(&simpler, job)?
            .iter()
            .flatten()
            .flat_map(|t| simpler.corners(*t as usize))
            .collect();
        centres.extend(&proof.places);
        report = Some(proof);
        let near = 4.0_f32;
        for (lock, p) in locked.iter_mut().zip(&whole.points) {
            *lock |= centres.iter().any(|c| (c - p).norm_squared() < near);
        }
    }
    job.step("proving the solid", 0.7)?;
    let proof = solid::check(whole, job)?;
    if proof.is_solid() {
        return Ok((whole.clone(), proof));
    }
    let place = proof.places.first().or(report.as_ref().and_then(|r| r.places.first())).copied().unwrap_or_default();
    Err(ShellError::CannotBuild {
        setting: "resolution_mm".into(),
        place,
        what: format!("the surface made is not a printable solid: {}", proof.faults().join("; ")),
        cure: "Set a finer resolution, or smooth the zone there.".into(),
    })
}
