//! Shading that shows bony points, ribs and numbers from every side: what stands out over the smoothed surface is
//! lighter, hollows are darker, whatever the light.

use std::sync::Arc;

use bevy::prelude::*;
use mesh::Job;
use nalgebra::Vector3;
use rayon::prelude::*;
use session::{Outcome, Task};

use crate::state::Bench;

/// The size of the forms that a shading shows.
#[derive(Debug, Clone, Copy)]
struct Grain {
    /// Width of the smoothing, standard deviation, mm.
    width_mm: f64,
    /// What stands out by this much has the full effect, mm.
    full_mm: f32,
    /// The full effect: lighter or darker by this share.
    most: f32,
}

/// Wider than the crest of a shin, narrower than a calf.
const SKIN: Grain = Grain { width_mm: 6.0, full_mm: 1.0, most: 0.24 };
/// As wide as ribs, strokes of numbers and rims.
const SHELL: Grain = Grain { width_mm: 3.0, full_mm: 0.8, most: 0.2 };

/// Most rounds of smoothing: enough for that width on points 1 mm apart, and bounded on finer scans.
const MOST_ROUNDS: usize = 150;
/// λ, the part of the way to the mean of its neighbours that a point moves in a round.
const STEP: f64 = 0.5;

/// The shading of the limb on the stage.
#[derive(Resource, Default)]
pub struct Shade {
    /// Serial of the limb it was asked for.
    asked: u64,
    task: Task<Option<Vec<f32>>>,
    /// Factor of each vertex; empty until it is known.
    pub factors: Arc<Vec<f32>>,
    /// Grows with every new shading.
    pub serial: u64,
}

/// Asks for the shading of a new limb, and takes it when it is done.
pub fn follow(bench: Res<Bench>, mut shade: ResMut<Shade>) {
    let limb = &bench.session.derived().limb;
    let shade = shade.bypass_change_detection();
    if limb.serial() != shade.asked {
        shade.asked = limb.serial();
        shade.factors = Arc::default();
        shade.serial += 1;
        match limb.value() {
            Some(limb) => {
                let limb = Arc::clone(limb);
                shade.task.start(move |job| factors(limb.skin.mesh(), limb.skin.vertex_normals(), SKIN, job));
            }
            None => shade.task.cancel(),
        }
    }
    if let Some(Outcome::Done(Some(factors))) = shade.task.take() {
        shade.factors = Arc::new(factors);
        shade.serial += 1;
    }
}

/// How much lighter or darker each vertex of a shell is; nothing where the work was stopped.
pub fn shade_of_shell(shell: &mesh::Mesh, job: &Job) -> Arc<Vec<f32>> {
    Arc::new(factors(shell, &shell.shading_normals(), SHELL, job).unwrap_or_default())
}

/// How much lighter or darker each vertex is; none where the work was stopped.
fn factors(mesh: &mesh::Mesh, normals: &[Vector3<f32>], grain: Grain, job: &Job) -> Option<Vec<f32>> {
    let heights = heights_mm(mesh, normals, grain.width_mm, job)?;
    let mut sorted = heights.clone();
    let middle = sorted.len() / 2;
    // A limb is round, so all of it stands out a little over its smoothed self; the median is taken off.
    let usual = if sorted.is_empty() { 0.0 } else { *sorted.select_nth_unstable_by(middle, f32::total_cmp).1 };
    let Grain { full_mm, most, .. } = grain;
    Some(heights.into_iter().map(|h| 1.0 + most * ((h - usual) / full_mm).clamp(-1.0, 1.0)).collect())
}

/// How far each vertex stands out over the smoothed surface, mm.
///
/// A round moves each point by λ of the way to the middle of its neighbours; at a mean edge e that adds λ e²/2 to the
/// variance in each direction of the surface, so `n = 2 σ² / (λ e²)` rounds smooth by σ. Points of the border stay.
fn heights_mm(mesh: &mesh::Mesh, normals: &[Vector3<f32>], width_mm: f64, job: &Job) -> Option<Vec<f32>> {
    let count = mesh.points.len();
    // The neighbours of all vertices in one list; `starts` says where each vertex's begin.
    let mut pairs: Vec<(u32, u32)> = mesh
        .triangles
        .par_iter()
        .flat_map_iter(|[a, b, c]| [(*a, *b), (*b, *a), (*b, *c), (*c, *b), (*c, *a), (*a, *c)])
        .collect();
    pairs.par_sort_unstable();
    let edges = pairs.len().max(1) as f64;
    let length2 = |(a, b): &(u32, u32)| f64::from((mesh.points[*a as usize] - mesh.points[*b as usize]).norm_squared());
    let edge2 = pairs.iter().map(length2).sum::<f64>() / edges;
    // A pair that only one triangle has is on the border.
    let mut starts = vec![0_usize; count + 1];
    let mut border = vec![false; count];
    let mut neighbours = Vec::with_capacity(pairs.len() / 2);
    for run in pairs.chunk_by(|p, q| p == q) {
        let (a, b) = run[0];
        if run.len() == 1 {
            border[a as usize] = true;
        }
        neighbours.push(b);
        starts[a as usize + 1] = neighbours.len();
    }
    for v in 0..count {
        starts[v + 1] = starts[v + 1].max(starts[v]);
    }
    job.check().ok()?;
    let rounds = (2.0 * width_mm * width_mm / (STEP * edge2.max(1e-6))).round() as usize;
    let mut now = mesh.points.clone();
    let mut next = now.clone();
    for _ in 0..rounds.clamp(1, MOST_ROUNDS) {
        job.check().ok()?;
        next.par_iter_mut().enumerate().with_min_len(4096).for_each(|(v, next)| {
            let of = &neighbours[starts[v]..starts[v + 1]];
            *next = now[v];
            if !of.is_empty() && !border[v] {
                let sum: Vector3<f32> = of.iter().map(|n| now[*n as usize] - now[v]).sum();
                *next += sum * (STEP as f32 / of.len() as f32);
            }
        });
        std::mem::swap(&mut now, &mut next);
    }
    Some((0..count).map(|v| (mesh.points[v] - now[v]).dot(&normals[v])).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use mesh::Surface;

    /// A sheet of 1 mm squares cut alternately, with waves along x.
    fn waves(length_mm: f32, high_mm: f32) -> Surface {
        let (length, high) = (f64::from(length_mm), f64::from(high_mm));
        let height = |x: f64, _: f64| high * (std::f64::consts::TAU * x / length).cos();
        test_shapes::height_field(160, 160, 1.0, test_shapes::Diagonals::Alternate, height).build()
    }

    /// A wave of wavelength L that is smoothed by σ keeps exp(−(2πσ/L)²/2) of its height, so it stands out by the rest
    /// (diffusion of a cosine).
    #[test]
    fn a_wave_stands_out_by_what_smoothing_takes_from_it() {
        for length in [40.0_f32, 80.0] {
            let skin = waves(length, 0.5);
            let heights = heights_mm(skin.mesh(), skin.vertex_normals(), SKIN.width_mm, &Job::silent()).unwrap();
            let crest = (80 * 161 + 80) as usize;
            let kept = (-0.5 * (std::f64::consts::TAU * SKIN.width_mm / f64::from(length)).powi(2)).exp();
            let expected = 0.5 * (1.0 - kept) as f32;
            assert!((heights[crest] / expected - 1.0).abs() < 0.12, "{length}: {} {expected}", heights[crest]);
        }
    }

    #[test]
    fn crests_are_lighter_hollows_darker_and_flat_skin_is_as_it_is() {
        // 1.5 mm of 40 mm long waves stand out by 0.5 mm, half of the full effect.
        let skin = waves(40.0, 1.5);
        let factors = |skin: &Surface, job: &Job| factors(skin.mesh(), skin.vertex_normals(), SKIN, job);
        let shaded = factors(&skin, &Job::silent()).unwrap();
        let at = |x: usize| shaded[80 * 161 + x];
        assert!(at(80) > 1.05 && at(60) < 0.95, "{} {}", at(80), at(60));
        let flat = factors(&waves(40.0, 0.0), &Job::silent()).unwrap();
        assert!(flat.iter().all(|f| (f - 1.0).abs() < 1e-3));
        let stopped = Job::silent();
        stopped.cancel();
        assert_eq!(factors(&skin, &stopped), None);
    }
}
