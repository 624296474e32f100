//! Denoising without shrinking.

use nalgebra::Vector3;
use rayon::prelude::*;

use super::bilaplacian::{Ask, Bilaplacian, Weights};
use super::noise::noise_mm;
use crate::{Adjacency, Cancelled, Job, Mesh};

/// Where the surface moved by more than noise, points are held up to this many times harder than the others.
const HARDEST: f64 = 200.0;

/// What [`smooth`] found and did.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Smoothed {
    /// Noise that was found, mm (standard deviation along the normal).
    pub noise_mm: f64,
    /// Root mean square of how far points were moved, mm; 0 where the surface was left alone.
    pub moved_mm: f64,
    /// Farthest that a point was moved, mm.
    pub farthest_mm: f64,
}

/// Below this noise nothing is done, mm: less than any printer or liner shows.
const CLEAN_MM: f64 = 0.02;
/// Factor by which noise is to be reduced.
const REDUCTION: f64 = 4.0;
/// Plate stiffness allowed per millimetre of noise, mm³: keeps what is wider than about 5 mm.
const STIFFEST: f64 = 12.0;

/// Removes noise by a thin plate held to the points: minimises `Σ |x − x₀|² + λ ∫ |Δx|²`.
///
/// A plate passes constant curvature on unchanged, to first order, so cylinders and spheres keep their radius (the
/// shift is λ/r³), unlike averaging. λ follows from the noise that is found: the variance that a plate leaves of white
/// noise on points of area `a` each is `a / (16 √λ)`. `amount` scales the reduction aimed at (1: fourfold; 0: off).
/// Points from number `measured` on were added to fill holes: they are not held and follow the others.
///
/// # Errors
/// [`Cancelled`] when the job is stopped.
pub fn smooth(mesh: &mut Mesh, amount: f64, measured: usize, job: &Job) -> Result<Smoothed, Cancelled> {
    let adjacency = Adjacency::build(mesh, job)?;
    let mut done = Smoothed { noise_mm: noise_mm(mesh, &adjacency, job)?, ..Smoothed::default() };
    if amount <= 0.0 || done.noise_mm < CLEAN_MM || mesh.points.is_empty() {
        return Ok(done);
    }
    let cell = mesh.area_mm2() / mesh.points.len() as f64;
    let reduction = (REDUCTION * amount).max(1.0);
    let stiffness = (cell / 16.0 * reduction * reduction).powi(2).min(STIFFEST * amount * done.noise_mm);

    let start: Vec<Vector3<f64>> = mesh.points.iter().map(|p| p.coords.cast()).collect();
    let mut x = start.clone();
    let mut hold: Vec<f64> = (0..start.len()).map(|v| f64::from(u8::from(v < measured))).collect();
    // The first plate is weighted by noisy triangles, the second by those that the first has smoothed; the second also
    // holds what the first removed though it was more than noise.
    for round in 0..2 {
        if round == 1 {
            job.check()?;
            hold_shape(mesh, &adjacency, &start, done.noise_mm, &mut hold[..measured.min(start.len())]);
        }
        let ask = Ask {
            hold: Some(&hold),
            wish: Some(&start),
            stiffness: stiffness / cell,
            free: None,
            goal_mm: 0.002 * done.noise_mm,
            rounds: 60,
        };
        Bilaplacian::new(mesh, &adjacency, Weights::Cotangent, job)?.solve(&ask, &mut x, job)?;
        for (p, x) in mesh.points.iter_mut().zip(&x) {
            p.coords = x.cast();
        }
    }
    let mut sum = 0.0;
    for (x, s) in x.iter().zip(&start).take(measured) {
        let moved = (x - s).norm_squared();
        sum += moved;
        done.farthest_mm = done.farthest_mm.max(moved.sqrt());
    }
    done.moved_mm = (sum / measured.clamp(1, start.len()) as f64).sqrt();
    Ok(done)
}

/// Holds points harder where the surface moved by more than noise explains: at creases and small bumps.
///
/// The movement is averaged over each point and its neighbours; seven values of pure noise seldom exceed 1.5 of it.
fn hold_shape(mesh: &Mesh, adjacency: &Adjacency, start: &[Vector3<f64>], noise_mm: f64, hold: &mut [f64]) {
    let moved: Vec<f64> =
        mesh.points.iter().zip(start).map(|(p, s)| (p.coords.cast::<f64>() - s).norm_squared()).collect();
    hold.par_iter_mut().enumerate().for_each(|(v, hold)| {
        let around = adjacency.triangles_around(v as u32);
        let sum: f64 = around.iter().flat_map(|t| mesh.triangles[*t as usize]).map(|w| moved[w as usize]).sum();
        let mean = sum / (3 * around.len()).max(1) as f64;
        let excess = mean / (1.5 * noise_mm).powi(2);
        *hold = (excess * excess).clamp(1.0, HARDEST);
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use test_shapes::{even_tube, icosphere};

    fn error_against(
        mesh: &Mesh,
        radius: impl Fn(&Vector3<f64>) -> f64,
        keep: impl Fn(&Vector3<f64>) -> bool,
    ) -> (f64, f64) {
        let e: Vec<f64> = mesh.points.iter().map(|p| p.coords.cast()).filter(|p| keep(p)).map(|p| radius(&p)).collect();
        let n = e.len() as f64;
        (e.iter().sum::<f64>() / n, (e.iter().map(|x| x * x).sum::<f64>() / n).sqrt())
    }

    #[test]
    fn noise_on_a_sphere_falls_threefold_and_the_radius_stays() {
        let mut mesh: Mesh = icosphere(40.0, 5).noisy(0.3, 7).build();
        let found = smooth(&mut mesh, 1.0, usize::MAX, &Job::silent()).unwrap();
        assert!((found.noise_mm / 0.3 - 1.0).abs() < 0.1, "{found:?}");
        let (bias, rms) = error_against(&mesh, |p| p.norm() - 40.0, |_| true);
        assert!(rms < 0.1 && bias.abs() < 0.02, "rms {rms}, bias {bias}");
    }

    #[test]
    fn noise_on_a_cylinder_falls_threefold_and_the_radius_stays() {
        let mut mesh: Mesh = even_tube(30.0, 120.0, 1.6).noisy(0.3, 8).build();
        smooth(&mut mesh, 1.0, usize::MAX, &Job::silent()).unwrap();
        let (bias, rms) = error_against(&mesh, |p| p.xy().norm() - 30.0, |p| p.z.abs() < 56.0);
        assert!(rms < 0.1 && bias.abs() < 0.02, "rms {rms}, bias {bias}");
        let (_, ends) = error_against(&mesh, |p| p.xy().norm() - 30.0, |_| true);
        assert!(ends < 0.13, "rms with the ends {ends}");
    }

    #[test]
    fn a_clean_surface_is_left_alone() {
        for shape in [icosphere(40.0, 5), even_tube(25.0, 80.0, 3.0)] {
            let mut mesh: Mesh = shape.build();
            let before = mesh.clone();
            let found = smooth(&mut mesh, 1.0, usize::MAX, &Job::silent()).unwrap();
            assert!(found.farthest_mm < 0.01, "{found:?}");
            assert!(mesh.points.iter().zip(&before.points).all(|(p, q)| (p - q).norm() < 0.01));
        }
    }

    /// A ridge along the cylinder whose crest has 5 mm radius, 2 mm high, under 0.3 mm noise.
    #[test]
    fn a_ridge_of_five_millimetre_radius_keeps_its_height_within_a_tenth() {
        let (r, height) = (30.0, 2.0);
        let sigma = (height * 5.0_f64).sqrt();
        let wanted = |angle: f64| r + height * (-(angle * r / sigma).powi(2) / 2.0).exp();
        let ridged = even_tube(r, 120.0, 1.0).mapped(|[x, y, z]| {
            let f = (wanted(f64::from(y).atan2(f64::from(x))) / r) as f32;
            [x * f, y * f, z]
        });
        let mut mesh: Mesh = ridged.noisy(0.3, 9).build();
        smooth(&mut mesh, 1.0, usize::MAX, &Job::silent()).unwrap();
        let crest = |p: &Vector3<f64>| p.z.abs() < 55.0 && p.x > 0.0 && (p.y / p.x).abs() < 0.03;
        let (bias, _) = error_against(&mesh, |p| p.xy().norm() - wanted(p.y.atan2(p.x)), crest);
        assert!(bias.abs() < 0.1, "crest off by {bias}");
    }
}
