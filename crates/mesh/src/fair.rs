//! A fair copy of a surface: without its short waves, with its curvature.

use nalgebra::{Matrix6, Point3, Vector3, Vector6};

use crate::{Cancelled, Job, Mesh, SpatialHash};

/// Samples have this distance as a share of the reach.
const CELL: f32 = 0.2;
/// A sample counts less where its normal turns from that of the point, and nothing from about 80 degrees on (cosines): the
/// far side of a thin part does not.
const FACES: [f32; 2] = [0.17, 0.5];
/// Root mean square of what a quadric leaves, as a share of its reach: up to the first it is trusted, from the second on
/// it is not, as where two fingers lie side by side, and a quadric of half the reach is asked.
const TRUSTED: [f64; 2] = [0.025, 0.05];
/// How often the reach is halved.
const HALVED: i32 = 2;
/// Shares of a move below this are left out.
const SETTLED: f32 = 1e-3;
/// Fewer samples leave a point where it is.
const LEAST_SAMPLES: usize = 9;
/// Added to the diagonal of the system as a share of it, so that it has a solution at the end of a surface.
const EASED: f64 = 1e-6;

/// A place that stands for the points round it.
struct Sample {
    at: Point3<f32>,
    normal: Vector3<f32>,
    area: f64,
}

/// For each point of a mesh its place on a fair surface through all of them, reached along its unit normal.
///
/// That surface is the moving least squares one (Levin 1998, "The approximation power of moving least-squares"): at
/// each point the quadric that fits best to all within `reach_mm`, the nearer the better. Waves shorter than about the
/// reach go; spheres, cylinders and saddles stay, as a quadric has their curvature. Where the surface is no quadric
/// within the reach, as at knuckles, half of it or a quarter is taken, and where it is none in that either the points
/// stay.
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
        let level = Level::new(mesh, normals, reach_mm * 0.5_f32.powi(k), job)?;
        let heights = job.each(count, |v| {
            if open[v] < SETTLED { (0.0, 0.0) } else { level.height(&mesh.points[v], &normals[v]) }
        })?;
        for ((moved, open), (height, trust)) in moved.iter_mut().zip(&mut open).zip(heights) {
            *moved += *open * trust * height;
            *open *= 1.0 - trust;
        }
    }
    Ok((0..moved.len()).map(|v| mesh.points[v] + normals[v] * moved[v]).collect())
}

/// What quadrics of one reach are fitted to.
struct Level {
    reach_mm: f32,
    samples: Vec<Sample>,
    hash: SpatialHash,
}

impl Level {
    fn new(mesh: &Mesh, normals: &[Vector3<f32>], reach_mm: f32, job: &Job) -> Result<Self, Cancelled> {
        let samples = samples(mesh, normals, CELL * reach_mm, job)?;
        let hash = SpatialHash::of(reach_mm, samples.iter().map(|s| s.at));
        Ok(Self { reach_mm, samples, hash })
    }

    /// How high the quadric through the samples stands over a point, along the normal there, mm, and how far it is to be
    /// trusted, 0 to 1.
    fn height(&self, p: &Point3<f32>, normal: &Vector3<f32>) -> (f32, f32) {
        let side = if normal.x.abs() < 0.8 { Vector3::x() } else { Vector3::y() };
        let Some(u) = normal.cross(&side).try_normalize(1e-6) else { return (0.0, 0.0) };
        let v = normal.cross(&u);
        let (mut system, mut right, mut square, mut count) = (Matrix6::<f64>::zeros(), Vector6::<f64>::zeros(), 0.0, 0);
        for sample in self.hash.candidates(p).map(|s| &self.samples[s as usize]) {
            let away = (sample.at - p) / self.reach_mm;
            let r2 = away.norm_squared();
            let faces = ((sample.normal.dot(normal) - FACES[0]) / (FACES[1] - FACES[0])).min(1.0);
            if r2 >= 1.0 || faces <= 0.0 {
                continue;
            }
            let weight = f64::from((1.0 - r2).powi(3) * faces) * sample.area;
            let [x, y, z] = [&u, &v, normal].map(|axis| f64::from(away.dot(axis)));
            let row = Vector6::new(1.0, x, y, x * x, x * y, y * y);
            system += row * row.transpose() * weight;
            right += row * (z * weight);
            square += z * z * weight;
            count += 1;
        }
        if count < LEAST_SAMPLES {
            return (0.0, 0.0);
        }
        let weight = system[(0, 0)];
        for k in 0..6 {
            system[(k, k)] *= 1.0 + EASED;
        }
        let Some(factors) = system.cholesky() else { return (0.0, 0.0) };
        let found = factors.solve(&right);
        let left = ((square - found.dot(&right)).max(0.0) / weight).sqrt();
        let doubt = ((left - TRUSTED[0]) / (TRUSTED[1] - TRUSTED[0])).clamp(0.0, 1.0);
        ((found[0] * f64::from(self.reach_mm)) as f32, (1.0 - doubt) as f32)
    }
}

/// Points in one cube that face one way, as one.
fn samples(mesh: &Mesh, normals: &[Vector3<f32>], cell_mm: f32, job: &Job) -> Result<Vec<Sample>, Cancelled> {
    let mut areas = vec![0.0_f64; mesh.points.len()];
    for (t, corners) in mesh.triangles.iter().enumerate() {
        let third = mesh.cross(t).norm() / 6.0;
        corners.iter().for_each(|v| areas[*v as usize] += third);
    }
    let key = |v: usize| {
        let axis = normals[v].iamax();
        let side = 2 * axis as i32 + i32::from(normals[v][axis] > 0.0);
        let [x, y, z] = [0, 1, 2].map(|k| (mesh.points[v][k] / cell_mm).floor() as i32);
        [x, y, z, side]
    };
    job.check()?;
    let mut order: Vec<([i32; 4], u32)> = (0..mesh.points.len()).map(|v| (key(v), v as u32)).collect();
    order.sort_unstable();
    job.check()?;
    let one = |group: &[([i32; 4], u32)]| {
        let (mut at, mut normal, mut area) = (Vector3::<f64>::zeros(), Vector3::<f64>::zeros(), 0.0);
        for v in group.iter().map(|(_, v)| *v as usize) {
            at += mesh.points[v].coords.cast::<f64>() * areas[v];
            normal += normals[v].cast::<f64>() * areas[v];
            area += areas[v];
        }
        let normal = normal.try_normalize(1e-12)?.cast();
        (area > 0.0).then(|| Sample { at: Point3::from((at / area).cast::<f32>()), normal, area })
    };
    Ok(order.chunk_by(|a, b| a.0 == b.0).filter_map(one).collect())
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
