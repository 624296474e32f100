//! Quadrics fitted to a surface: what is left of it without its short waves, and how it curves there.

use nalgebra::{Matrix6, Point3, Vector3, Vector6};

use crate::{Cancelled, Job, Mesh, SpatialHash};

/// Samples have this distance as a share of the reach.
const CELL: f32 = 0.2;
/// A sample counts less where its normal turns from that of the point, and nothing from about 80 degrees on (cosines): the
/// far side of a thin part does not.
const FACES: [f32; 2] = [0.17, 0.5];
/// Fewer samples make no quadric.
const LEAST_SAMPLES: usize = 9;
/// Added to the diagonal of the system as a share of it, so that it has a solution at the end of a surface.
const EASED: f64 = 1e-6;

/// A place that stands for the points round it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// The middle of these points.
    pub at: Point3<f32>,
    /// Their unit normal.
    pub normal: Vector3<f32>,
    /// Their share of the surface, mm².
    pub area_mm2: f64,
}

/// A surface to which a quadric can be fitted round any point: the one that fits best to all within a reach, the nearer
/// the better, as in moving least squares (Levin 1998, "The approximation power of moving least-squares").
#[derive(Debug, Clone)]
pub struct Quadrics {
    reach_mm: f32,
    samples: Vec<Sample>,
    hash: SpatialHash,
}

/// The quadric round a point, as a height over the plane square to the normal that was given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quadric {
    /// Its height at the point, mm.
    pub height_mm: f32,
    /// Root mean square of what it leaves, as a share of the reach.
    pub left: f64,
    /// Slopes at the point, then its second derivatives xx, xy and yy, 1/mm.
    slopes: [f64; 2],
    bends: [f64; 3],
}

impl Quadrics {
    /// Variance of the smoothing that curvatures get from the fit, as a share of the square of the reach: the second
    /// derivative found on x⁴ is that of the fourth moments of the weight (1 − r²)³.
    pub const SMOOTHING: f32 = 1.0 / 14.0;

    /// Gathers what quadrics of one reach are fitted to.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub fn new(mesh: &Mesh, normals: &[Vector3<f32>], reach_mm: f32, job: &Job) -> Result<Self, Cancelled> {
        let samples = samples(mesh, normals, CELL * reach_mm, job)?;
        let hash = SpatialHash::of(reach_mm, samples.iter().map(|s| s.at));
        Ok(Self { reach_mm, samples, hash })
    }

    /// What they are fitted to: samples a fifth of the reach apart.
    #[must_use]
    pub fn samples(&self) -> &[Sample] {
        &self.samples
    }

    /// The quadric round a point with the unit normal `normal`; `None` where too little lies within the reach.
    #[must_use]
    pub fn at(&self, p: &Point3<f32>, normal: &Vector3<f32>) -> Option<Quadric> {
        let side = if normal.x.abs() < 0.8 { Vector3::x() } else { Vector3::y() };
        let u = normal.cross(&side).try_normalize(1e-6)?;
        let v = normal.cross(&u);
        let (mut system, mut right, mut square, mut count) = (Matrix6::<f64>::zeros(), Vector6::<f64>::zeros(), 0.0, 0);
        for sample in self.hash.candidates(p).map(|s| &self.samples[s as usize]) {
            let away = (sample.at - p) / self.reach_mm;
            let r2 = away.norm_squared();
            let faces = ((sample.normal.dot(normal) - FACES[0]) / (FACES[1] - FACES[0])).min(1.0);
            if r2 >= 1.0 || faces <= 0.0 {
                continue;
            }
            let weight = f64::from((1.0 - r2).powi(3) * faces) * sample.area_mm2;
            let [x, y, z] = [&u, &v, normal].map(|axis| f64::from(away.dot(axis)));
            let row = Vector6::new(1.0, x, y, x * x, x * y, y * y);
            system += row * row.transpose() * weight;
            right += row * (z * weight);
            square += z * z * weight;
            count += 1;
        }
        if count < LEAST_SAMPLES {
            return None;
        }
        let weight = system[(0, 0)];
        for k in 0..6 {
            system[(k, k)] *= 1.0 + EASED;
        }
        let found = system.cholesky()?.solve(&right);
        let left = ((square - found.dot(&right)).max(0.0) / weight).sqrt();
        let reach = f64::from(self.reach_mm);
        Some(Quadric {
            height_mm: (found[0] * reach) as f32,
            left,
            slopes: [found[1], found[2]],
            bends: [2.0 * found[3] / reach, found[4] / reach, 2.0 * found[5] / reach],
        })
    }
}

impl Quadric {
    /// The lesser and the greater principal curvature at the point, 1/mm: positive where the surface bulges out (do Carmo
    /// 1976, "Differential Geometry of Curves and Surfaces", 3-3, example 5: the mean and the Gaussian curvature of a
    /// graph).
    #[must_use]
    pub fn curvatures_per_mm(&self) -> [f32; 2] {
        let ([p, q], [r, s, t]) = (self.slopes, self.bends);
        let w2 = 1.0 + p * p + q * q;
        let mean = -((1.0 + q * q) * r - 2.0 * p * q * s + (1.0 + p * p) * t) / (2.0 * w2 * w2.sqrt());
        let gauss = (r * t - s * s) / (w2 * w2);
        let apart = (mean * mean - gauss).max(0.0).sqrt();
        [(mean - apart) as f32, (mean + apart) as f32]
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
        (area > 0.0).then(|| Sample { at: Point3::from((at / area).cast::<f32>()), normal, area_mm2: area })
    };
    Ok(order.chunk_by(|a, b| a.0 == b.0).filter_map(one).collect())
}

#[cfg(test)]
mod tests {
    use test_shapes::{even_tube, icosphere, torus};

    use super::*;

    /// Lesser and greater curvature at the points that `keep` keeps, each with the point.
    fn curvatures(mesh: &Mesh, reach_mm: f32, keep: impl Fn(&Point3<f32>) -> bool) -> Vec<(Point3<f32>, [f32; 2])> {
        let normals = mesh.vertex_normals();
        let quadrics = Quadrics::new(mesh, &normals, reach_mm, &Job::silent()).unwrap();
        let kept = mesh.points.iter().zip(&normals).filter(|(p, _)| keep(p));
        kept.map(|(p, n)| (*p, quadrics.at(p, n).unwrap().curvatures_per_mm())).collect()
    }

    #[test]
    fn balls_tubes_and_rings_have_their_curvatures() {
        let ball: Mesh = icosphere(40.0, 5).build();
        for (_, [least, most]) in curvatures(&ball, 12.0, |_| true) {
            assert!((least * 40.0 - 1.0).abs() < 0.03 && (most * 40.0 - 1.0).abs() < 0.03, "{least} {most}");
        }
        let tube: Mesh = even_tube(30.0, 120.0, 1.2).build();
        for (_, [least, most]) in curvatures(&tube, 12.0, |p| p.z.abs() < 45.0) {
            assert!(least.abs() < 5e-4 && (most * 30.0 - 1.0).abs() < 0.03, "{least} {most}");
        }
        // A ring of tube 20 about a circle of 60: inside it curves by 1/20 and −1/40, outside by 1/20 and 1/80.
        let ring: Mesh = torus(60.0, 20.0, 240, 90).build();
        for (p, [least, most]) in curvatures(&ring, 8.0, |p| p.z.abs() < 0.5) {
            let across = if p.coords.xy().norm() < 60.0 { -1.0 / 40.0 } else { 1.0 / 80.0 };
            assert!((most * 20.0 - 1.0).abs() < 0.04 && (least - across).abs() < 0.001, "{p}: {least} {most}");
        }
    }

    /// The closed form: a wave of length L along x loses exp(−σ² (2π/L)²/2) of its curvature to a smoothing of variance
    /// σ², as long as the wave is long.
    #[test]
    fn a_long_wave_loses_what_the_smoothing_takes() {
        let (wave, reach) = (60.0_f64, 14.0_f32);
        let rate = std::f64::consts::TAU / wave;
        let sheet: Mesh =
            test_shapes::height_field(180, 60, 1.0, test_shapes::Diagonals::Alternate, |x, _| 0.5 * (rate * x).cos())
                .build();
        let smoothing = f64::from(Quadrics::SMOOTHING) * f64::from(reach).powi(2);
        let exact = 0.5 * rate * rate * (-smoothing * rate * rate / 2.0).exp();
        let top = |p: &Point3<f32>| (p.x - 60.0).abs() < 0.1 && (20.0..40.0).contains(&p.y);
        for (_, [_, most]) in curvatures(&sheet, reach, top) {
            assert!((f64::from(most) / exact - 1.0).abs() < 0.03, "{most} for {exact}");
        }
    }

    #[test]
    fn too_little_has_no_quadric_and_it_stops_on_request() {
        let ball: Mesh = icosphere(40.0, 3).build();
        let normals = ball.vertex_normals();
        let quadrics = Quadrics::new(&ball, &normals, 5.0, &Job::silent()).unwrap();
        assert_eq!(quadrics.at(&Point3::new(90.0, 0.0, 0.0), &Vector3::x()), None);
        let job = Job::silent();
        job.cancel();
        assert_eq!(Quadrics::new(&ball, &normals, 5.0, &job).err(), Some(Cancelled));
    }
}
