//! Geodesic distance to lines and points.

use nalgebra::Point3;

use super::line::SurfaceLine;
use super::march::{Front, march};
use super::near::{self, SourceSegment};
use crate::{Cancelled, Hit, Job, NONE, Surface};

/// A point source with an initial distance: the front leaves it `start_mm` late.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeightedPoint {
    /// Where on the surface.
    pub at: Hit,
    /// Distance at the point itself, mm; not negative.
    pub start_mm: f32,
}

/// Geodesic distance of each vertex to the nearest of `lines`, mm, at most `reach_mm`.
///
/// Vertices that are farther, or cannot be reached over the surface, get `reach_mm`. With triangles of 1 mm, distances
/// beyond 2 mm are within 1 % of those on the smooth surface, shorter ones within 0.02 mm.
///
/// # Errors
/// [`Cancelled`] when `job` is; it is checked every 2048 vertices.
pub fn distance_to_lines(
    surface: &Surface,
    lines: &[SurfaceLine],
    reach_mm: f32,
    job: &Job,
) -> Result<Vec<f32>, Cancelled> {
    let mut segments = Vec::new();
    for line in lines {
        let first = segments.len() as u32;
        let count = line.triangles.len() as u32;
        for (i, (a, b, triangle)) in line.segments().enumerate() {
            let i = i as u32;
            let before = if i > 0 { first + i - 1 } else { NONE };
            let after = if i + 1 < count { first + i + 1 } else { NONE };
            let beside =
                if line.closed { [first + (i + count - 1) % count, first + (i + 1) % count] } else { [before, after] };
            segments.push(SourceSegment {
                ends: [a.cast(), b.cast()],
                normals: [&a, &b].map(|p| smooth_normal(surface, triangle, p)),
                triangle,
                beside,
                start_mm: 0.0,
            });
        }
    }
    measure(surface, &segments, reach_mm, job)
}

/// For each vertex the least of distance plus start over all `points`, mm, at most `reach_mm`.
///
/// As [`distance_to_lines`]; discs of different size are joined exactly by starting each at the largest radius less
/// its own.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub fn distance_from_points(
    surface: &Surface,
    points: &[WeightedPoint],
    reach_mm: f32,
    job: &Job,
) -> Result<Vec<f32>, Cancelled> {
    let segments: Vec<SourceSegment> = points
        .iter()
        .map(|p| SourceSegment {
            ends: [p.at.point.cast(); 2],
            normals: [surface.normal_at(&p.at).cast(); 2],
            triangle: p.at.triangle,
            beside: [NONE; 2],
            start_mm: f64::from(p.start_mm),
        })
        .collect();
    measure(surface, &segments, reach_mm, job)
}

fn measure(surface: &Surface, segments: &[SourceSegment], reach_mm: f32, job: &Job) -> Result<Vec<f32>, Cancelled> {
    job.check()?;
    let mut front = Front::new(surface.mesh().points.len());
    near::fill(surface, segments, 2.5 * typical_edge_mm(surface, segments), &mut front, job)?;
    let overtaking = segments.iter().any(|p| p.start_mm > 0.0);
    march(surface, &mut front, overtaking, f64::from(reach_mm), job)?;
    Ok(front.distance.iter().map(|d| (*d as f32).min(reach_mm)).collect())
}

/// Mean edge of the triangles that hold the sources.
fn typical_edge_mm(surface: &Surface, segments: &[SourceSegment]) -> f64 {
    let sum: f64 = segments
        .iter()
        .map(|p| {
            let [a, b, c] = surface.mesh().corners(p.triangle as usize).map(|p| p.cast::<f64>());
            ((b - a).norm() + (c - b).norm() + (a - c).norm()) / 3.0
        })
        .sum();
    sum / segments.len().max(1) as f64
}

/// The smooth normal at `p`, which lies in triangle `t`.
fn smooth_normal(surface: &Surface, t: u32, p: &Point3<f32>) -> nalgebra::Vector3<f64> {
    let [a, b, c] = surface.mesh().corners(t as usize).map(|p| p.cast::<f64>());
    let n = surface.mesh().cross(t as usize);
    let p = p.cast::<f64>();
    let n2 = n.norm_squared();
    let own = surface.triangle_normals()[t as usize].cast();
    if n2 <= 0.0 {
        return own;
    }
    let w = [
        (c - b).cross(&(p - b)).dot(&n) / n2,
        (a - c).cross(&(p - c)).dot(&n) / n2,
        (b - a).cross(&(p - a)).dot(&n) / n2,
    ];
    let corners = surface.mesh().triangles[t as usize];
    (0..3)
        .map(|k| surface.vertex_normals()[corners[k] as usize].cast::<f64>() * w[k])
        .sum::<nalgebra::Vector3<f64>>()
        .try_normalize(1e-9)
        .unwrap_or(own)
}
