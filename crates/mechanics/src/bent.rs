//! How stiff a guard is as a splint, and what it takes to spring it over the limb.

use nalgebra::{Matrix3, Point3, Unit, Vector3, Vector6};

use crate::elements::{Assembly, SolveError, Spring, Structure};
use crate::mid_surface::MidSurface;
use crate::worn::Built;

/// Moments that bend a guard, held at both its ends, by one degree, N·mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stiffness {
    /// As a joint below it bends: about the axis across the limb that lies in the guard.
    pub bending_n_mm_per_deg: f64,
    /// Sideways: about the axis square to the guard.
    pub sideways_n_mm_per_deg: f64,
    /// Twisted about the limb's axis.
    pub twisting_n_mm_per_deg: f64,
}

/// What it takes to spring a guard over the limb.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Springing {
    /// By how much its sides must come further apart, mm: by what the limb inside is wider than the mouth.
    pub opening_mm: f64,
    /// The force on each side that does it, N.
    pub force_n: f64,
    /// The greatest strain on the way.
    pub strain: f64,
}

/// This share of the length at each end is held.
const HELD: f64 = 0.12;
/// What holds it is so many times as stiff as the whole guard.
const HARD: f64 = 1e4;

/// The moments that bend a structure, assembled without holding it, by a degree. Ends are held as if glued to a board, so that what their straps let through is left out.
/// `out` is the way out of the limb in the middle of the guard.
///
/// # Errors
/// [`SolveError`].
pub fn stiffness(structure: &Structure, assembly: &Assembly, out: &Vector3<f64>) -> Result<Stiffness, SolveError> {
    let along = Vector3::z();
    let across = Unit::try_new(along.cross(out), 1e-9).map_or_else(Vector3::x, Unit::into_inner);
    let square = across.cross(&along);
    let heights = structure.points.iter().map(|p| p.z);
    let (low, high) = heights.clone().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), z| (a.min(z), b.max(z)));
    let middle = structure.points.iter().map(|p| p.coords).sum::<Vector3<f64>>() / structure.points.len() as f64;
    let middle = Point3::new(middle.x, middle.y, 0.5 * (low + high));
    let end = |z: f64| {
        let share = (z - low) / (high - low);
        if share < HELD {
            -1.0
        } else if share > 1.0 - HELD {
            1.0
        } else {
            0.0
        }
    };
    let hard = HARD * usual_stiffness(structure);
    let held: Vec<(u32, f64)> = (0_u32..).zip(heights.map(end)).filter(|(_, side)| *side != 0.0).collect();
    let springs: Vec<Spring> =
        held.iter().map(|(node, _)| Spring { node: *node, stiffness: Matrix3::identity() * hard }).collect();
    let system = assembly.with(&springs)?;
    let half = 0.5_f64.to_radians();
    let wanted = |axis: &Vector3<f64>, node: u32, side: f64| {
        axis.cross(&(structure.points[node as usize] - middle)) * (side * half)
    };
    let axes = [across, square, along];
    let loads = axes.map(|axis| {
        let mut loads = vec![Vector6::zeros(); structure.points.len()];
        for (node, side) in &held {
            loads[*node as usize].fixed_rows_mut::<3>(0).copy_from(&(wanted(&axis, *node, *side) * hard));
        }
        loads
    });
    let moved = system.under_each([&loads[0], &loads[1], &loads[2]]);
    let moment = |axis: &Vector3<f64>, moved: &[Vector6<f64>]| {
        let upper = held.iter().filter(|(_, side)| *side > 0.0);
        upper
            .map(|(node, side)| {
                let force = (wanted(axis, *node, *side) - moved[*node as usize].fixed_rows::<3>(0)) * hard;
                (structure.points[*node as usize] - middle).cross(&force).dot(axis)
            })
            .sum()
    };
    Ok(Stiffness {
        bending_n_mm_per_deg: moment(&across, &moved[0]),
        sideways_n_mm_per_deg: moment(&square, &moved[1]),
        twisting_n_mm_per_deg: moment(&along, &moved[2]),
    })
}

/// The stretching stiffness of a usual wall, N/mm.
fn usual_stiffness(structure: &Structure) -> f64 {
    let sum: f64 = structure.sections.iter().map(|section| section.membrane[(0, 0)]).sum();
    sum / structure.sections.len().max(1) as f64
}

/// What it takes to spring it over the limb: its two sides are pulled apart across the limb, without friction, and in proportion.
/// `None` where it has no two sides.
///
/// # Errors
/// [`SolveError`].
pub fn springing(built: &Built) -> Result<Option<Springing>, SolveError> {
    let middle = &built.middle;
    let out = middle.mean_out();
    let Some(across) = Unit::try_new(Vector3::z().cross(&out), 1e-9) else { return Ok(None) };
    let Some((sides, opening_mm)) = mouth(middle, &across) else { return Ok(None) };
    if opening_mm <= 0.0 {
        return Ok(Some(Springing { opening_mm: 0.0, force_n: 0.0, strain: 0.0 }));
    }
    let structure = built.structure();
    let mut loads = vec![Vector6::zeros(); structure.points.len()];
    for (nodes, side) in sides.iter().zip([1.0, -1.0]) {
        let share = side / nodes.len() as f64;
        nodes.iter().for_each(|v| (0..3).for_each(|k| loads[*v as usize][k] = across[k] * share));
    }
    // Forces balance: it is held just so that it does not drift.
    let soft = 1e-10 * usual_stiffness(&structure);
    let springs: Vec<Spring> =
        (0..structure.points.len() as u32).map(|node| Spring { node, stiffness: Matrix3::identity() * soft }).collect();
    let moved = built.shell.with(&springs)?.under(&loads);
    let way = |nodes: &[u32]| {
        nodes.iter().map(|v| moved[*v as usize].fixed_rows::<3>(0).dot(&across)).sum::<f64>() / nodes.len() as f64
    };
    let opens = way(&sides[0]) - way(&sides[1]);
    let force_n = opening_mm / opens;
    let strain = (0..structure.triangles.len()).filter_map(|t| middle.greatest_strain(&structure, t, &moved));
    Ok(Some(Springing { opening_mm, force_n, strain: force_n * strain.fold(0.0, f64::max) }))
}

/// The nodes along both sides of the trim line, and by how much the limb inside is wider than the mouth between them, mm: in slabs
/// along the limb, the greatest.
fn mouth(middle: &MidSurface, across: &Vector3<f64>) -> Option<([Vec<u32>; 2], f64)> {
    let trim = middle.edges().into_iter().next()?;
    let heights = middle.points.iter().map(|p| p.z);
    let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), z| (a.min(z), b.max(z)));
    let slab = |z: f64| (((z - low) / (high - low) * SLABS as f64) as usize).min(SLABS - 1);
    let on_skin = |v: u32| middle.below[v as usize].point.cast::<f64>().coords.dot(across);
    let along_trim = middle.turning(&trim);
    let mut sides = [Vec::new(), Vec::new()];
    let mut mouths = [[f64::NEG_INFINITY; 2]; SLABS];
    let mut widths = [(f64::INFINITY, f64::NEG_INFINITY); SLABS];
    for v in 0..middle.points.len() as u32 {
        let (least, most) = &mut widths[slab(middle.points[v as usize].z)];
        (*least, *most) = (least.min(on_skin(v)), most.max(on_skin(v)));
    }
    for (v, upward) in trim.iter().zip(along_trim) {
        // The trim line runs against the clock seen from outside: up on the side that lies the way of `across`.
        if upward.abs() < STEEP {
            continue;
        }
        let side = usize::from(upward < 0.0);
        sides[side].push(*v);
        // As wide as anywhere in the slab.
        let reach = if side == 0 { on_skin(*v) } else { -on_skin(*v) };
        let mouth = &mut mouths[slab(middle.points[*v as usize].z)][side];
        *mouth = mouth.max(reach);
    }
    if sides.iter().any(Vec::is_empty) {
        return None;
    }
    let wider = (0..SLABS).filter_map(|k| {
        let both = mouths[k][0] + mouths[k][1];
        both.is_finite().then_some(widths[k].1 - widths[k].0 - both)
    });
    let opening = wider.fold(0.0, f64::max);
    Some((sides, if opening < LEAST_MM { 0.0 } else { opening }))
}

/// Skin gives by as much, mm.
const LEAST_MM: f64 = 0.5;
/// Slabs along the limb in which the mouth is measured.
const SLABS: usize = 12;
/// The trim line belongs to a side where it runs along the limb by at least this cosine.
const STEEP: f64 = 0.7;
