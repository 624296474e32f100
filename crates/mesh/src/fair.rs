//! A fair copy of a surface: without its short waves, with its curvature.

use nalgebra::{Point3, Vector3};

use crate::{Cancelled, Job, Mesh, Quadrics};

/// Root mean square of what a quadric leaves, as a share of its reach: up to the first it is trusted, from the second on
/// it is not, as where two fingers lie side by side, and a quadric of half the reach is asked.
const TRUSTED: [f64; 2] = [0.025, 0.05];
/// How often the reach is halved.
const HALVED: i32 = 2;
/// No point moves by more than this share of the reach: knuckles and creases are eased, not filled.
const MOST: f32 = 0.045;
/// Shares of a move below this are left out.
const SETTLED: f32 = 1e-3;

/// For each point of a mesh its place on a fair surface through all of them, reached along its unit normal.
///
/// That surface is the moving least squares one of [`Quadrics`]: at each point the quadric that fits best to all within
/// `reach_mm`, the nearer the better. Waves shorter than about the reach go; spheres, cylinders and saddles stay, as a
/// quadric has their curvature. Where the surface is no quadric within the reach, as at knuckles, half of it or a quarter
/// is taken, and where it is none in that either the points stay. None moves by more than a twentieth of the reach.
///
/// # Errors
/// [`Cancelled`] when `job` is; it is checked every few thousand points.
pub fn fair_points(
    mesh: &Mesh,
    normals: &[Vector3<f32>],
    reach_mm: f32,
    job: &Job,
) -> Result<Vec<Point3<f32>>, Cancelled> {
    let count = mesh.points.len();
    let (mut moved, mut open) = (vec![0.0_f32; count], vec![1.0_f32; count]);
    for k in 0..=HALVED {
        if open.iter().all(|open| *open < SETTLED) {
            break;
        }
        // One level at a time: the samples of all of them are many on a fine mesh.
        let level = Quadrics::new(mesh, normals, reach_mm * 0.5_f32.powi(k), job)?;
        let heights = job.each(count, |v| {
            if open[v] < SETTLED { (0.0, 0.0) } else { trusted(&level, &mesh.points[v], &normals[v]) }
        })?;
        for ((moved, open), (height, trust)) in moved.iter_mut().zip(&mut open).zip(heights) {
            *moved += *open * trust * height;
            *open *= 1.0 - trust;
        }
    }
    let most_mm = MOST * reach_mm;
    // Small moves are kept as they are, great ones come near to the greatest.
    let soft = |mm: f32| mm / (1.0 + (mm / most_mm).powi(4)).sqrt().sqrt();
    Ok((0..moved.len()).map(|v| mesh.points[v] + normals[v] * soft(moved[v])).collect())
}

/// How high a quadric stands over a point, mm, and how far it is to be trusted, 0 to 1.
fn trusted(quadrics: &Quadrics, p: &Point3<f32>, normal: &Vector3<f32>) -> (f32, f32) {
    let Some(quadric) = quadrics.at(p, normal) else { return (0.0, 0.0) };
    let doubt = ((quadric.left - TRUSTED[0]) / (TRUSTED[1] - TRUSTED[0])).clamp(0.0, 1.0);
    (quadric.height_mm, (1.0 - doubt) as f32)
}

#[cfg(test)]
mod tests {
    use test_shapes::{even_tube, height_field, icosphere};

    use super::*;

    fn fair(mesh: &Mesh, reach_mm: f32) -> Vec<Point3<f32>> {
        fair_points(mesh, &mesh.vertex_normals(), reach_mm, &Job::silent()).unwrap()
    }

    /// The root mean square of how far points are from a surface, by the signed distance that is given.
    fn off(points: &[Point3<f32>], keep: impl Fn(&Point3<f32>) -> bool, away: impl Fn(&Point3<f32>) -> f32) -> f32 {
        let all: Vec<f32> = points.iter().filter(|p| keep(p)).map(&away).collect();
        (all.iter().map(|d| d * d).sum::<f32>() / all.len() as f32).sqrt()
    }

    #[test]
    fn noise_goes_and_balls_and_tubes_keep_their_size() {
        let ball: Mesh = icosphere(40.0, 5).noisy(0.2, 5).build();
        let smooth = fair(&ball, 12.0);
        let mean = smooth.iter().map(|p| p.coords.norm()).sum::<f32>() / smooth.len() as f32;
        assert!((mean - 40.0).abs() < 0.02, "{mean}");
        let rms = off(&smooth, |_| true, |p| p.coords.norm() - 40.0);
        // To a quarter.
        assert!(rms < 0.05, "{rms}");
        let tube: Mesh = even_tube(30.0, 120.0, 1.2).noisy(0.2, 6).build();
        let smooth = fair(&tube, 12.0);
        let rms = off(&smooth, |p| p.z.abs() < 48.0, |p| p.coords.xy().norm() - 30.0);
        assert!(rms < 0.05, "{rms}");
        let ends = off(&smooth, |_| true, |p| p.coords.xy().norm() - 30.0);
        assert!(ends < 0.07, "{ends}");
    }

    #[test]
    fn short_waves_go_and_long_ones_stay() {
        let left = |wave_mm: f64| {
            let wavy = move |x: f64, _: f64| 0.3 * (std::f64::consts::TAU * x / wave_mm).sin();
            let sheet: Mesh = height_field(100, 40, 1.0, test_shapes::Diagonals::Alternate, wavy).build();
            let smooth = fair(&sheet, 12.0);
            let inner = |p: &Point3<f32>| (15.0..85.0).contains(&p.x) && (12.0..28.0).contains(&p.y);
            off(&smooth, inner, |p| p.z) / (0.3 * std::f32::consts::FRAC_1_SQRT_2)
        };
        let [short, long] = [left(7.0), left(60.0)];
        assert!(short < 0.1 && long > 0.95, "{short} {long}");
    }

    #[test]
    fn the_far_side_of_a_thin_part_is_not_mixed_in() {
        // Two sheets 1 mm apart that face away from each other.
        let lower = test_shapes::plane(30, 30, 1.0).flipped();
        let upper = test_shapes::plane(30, 30, 1.0).moved([0.0, 0.0, 1.0]);
        let thin: Mesh = lower.and(&upper).build();
        let smooth = fair(&thin, 8.0);
        for (p, q) in thin.points.iter().zip(&smooth) {
            assert!((p - q).norm() < 1e-3, "{p} {q}");
        }
    }

    #[test]
    fn it_stops_on_request() {
        let ball: Mesh = icosphere(10.0, 2).build();
        let job = Job::silent();
        job.cancel();
        assert_eq!(fair_points(&ball, &ball.vertex_normals(), 5.0, &job), Err(Cancelled));
    }
}
