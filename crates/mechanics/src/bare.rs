//! The same blow without a guard: on foam alone, and on bare skin.

use mesh::{Cancelled, Job, Surface};
use nalgebra::{Point3, Vector3};
use serde::Serialize;

use crate::contact::Bed;
use crate::striker::{Blow, Face, GRAVITY, Line};

/// A blow on what gives column by column, at the moment of the greatest force.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bare {
    /// The greatest force, N.
    pub force_n: f64,
    /// How far the striker went from where it first touched, mm.
    pub way_mm: f64,
    /// The greatest pressure, MPa.
    pub peak_mpa: f64,
    /// Areas that are pressed with more than 10, 20 and 50 % of that, mm².
    pub areas_mm2: [f64; 3],
}

/// Shares of the greatest pressure that areas are told for.
pub const SHARES: [f64; 3] = [0.1, 0.2, 0.5];

/// The greatest pressure, MPa, and the areas that are pressed with more than each of [`SHARES`] of it, mm².
#[must_use]
pub fn pressed_areas(pressures: &[(f64, f64)]) -> (f64, [f64; 3]) {
    let peak = pressures.iter().map(|(pressure, _)| *pressure).fold(0.0, f64::max);
    let over = |share: f64| {
        pressures.iter().filter(|(pressure, _)| peak > 0.0 && *pressure > share * peak).map(|(_, area)| area).sum()
    };
    (peak, SHARES.map(over))
}

/// Columns across the face, at least.
const ACROSS: f32 = 40.0;
/// Skin is looked for so far around, mm.
const AROUND_MM: f32 = 120.0;
/// Halvings until ways are equal.
const HALVINGS: usize = 60;
/// No further way is looked at, mm.
const MOST_MM: f64 = 300.0;

/// The blow spent on layers over the skin that stand so high, mm, without a guard. Layers are taken column by column, and what
/// lies beside the face does not help: the pressure is told rather too high than too low under a small face. `None` where the
/// face passes by.
///
/// # Errors
/// [`Cancelled`].
pub fn struck_bare(
    skin: &Surface,
    bed: &Bed,
    height_mm: f64,
    line: &Line,
    blow: &Blow,
    job: &Job,
) -> Result<Option<Bare>, Cancelled> {
    let Blow { striker, face, falls, .. } = blow;
    let reach = face.reach_mm();
    let step = 2.0 * reach / ACROSS;
    let half = (0.5 * ACROSS).ceil() as i32;
    let side = (2 * half + 1) as usize;
    let columns = job.each(side * side, |i| {
        let at = [i % side, i / side].map(|k| (k as i32 - half) as f32 * step);
        column(skin, height_mm, line, face, at)
    })?;
    let columns: Vec<[f64; 2]> = columns.into_iter().flatten().collect();
    let first = columns.iter().map(|[after, _]| *after).fold(f64::INFINITY, f64::min);
    if !first.is_finite() {
        return Ok(None);
    }
    let area = f64::from(step * step);
    // What lies aslant of the blow is pressed by what of the way is square to it.
    let pressed = |way: f64| columns.iter().map(move |[after, cosine]| bed.pressed((way - (after - first)) * cosine));
    let energy = striker.energy_j() * 1e3;
    let weight = if *falls { striker.mass_kg * GRAVITY } else { 0.0 };
    let taken = |way: f64| {
        let work = pressed(way).zip(&columns).map(|(column, [_, cosine])| column.work_n_per_mm / cosine);
        work.sum::<f64>() * area - weight * way
    };
    let (mut low, mut high) = (0.0, MOST_MM);
    for _ in 0..HALVINGS {
        let way = 0.5 * (low + high);
        if taken(way) < energy { low = way } else { high = way }
    }
    let pressures = pressed(high).zip(&columns).map(|(column, [_, cosine])| (column.pressure_mpa, area / cosine));
    let (peak_mpa, areas_mm2) = pressed_areas(&pressures.collect::<Vec<_>>());
    let force_n = pressed(high).map(|column| column.pressure_mpa * area).sum();
    Ok(Some(Bare { force_n, way_mm: high, peak_mpa, areas_mm2 }))
}

/// How far the face goes until it meets the layers at one place aside of the line, mm, and how square to it they lie there, as a
/// cosine.
fn column(skin: &Surface, height_mm: f64, line: &Line, face: &Face, at: [f32; 2]) -> Option<[f64; 2]> {
    let behind = f64::from(face.behind_mm(at[0], at[1])?);
    let way = line.way.into_inner();
    let from: Point3<f64> = line.aside(at) - way * f64::from(AROUND_MM);
    let direction: Vector3<f32> = way.cast();
    let hit = skin.ray(&from.cast::<f32>(), &direction, 3.0 * AROUND_MM)?;
    let cosine = -f64::from(skin.normal_at(&hit).dot(&direction));
    if cosine < LEAST_COSINE {
        return None;
    }
    let depth = (hit.point.cast::<f64>() - line.through).dot(&way);
    Some([depth - height_mm / cosine + behind, cosine])
}

/// What lies more aslant of a blow is not pressed by it.
const LEAST_COSINE: f64 = 0.17;
