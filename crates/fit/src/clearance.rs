//! How far a shell stands off the skin.

use mesh::{Cancelled, Job, Mesh, Surface};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use serde::Serialize;

use crate::FitError;
use crate::error::check;
use crate::inner_face::{InnerFace, Spread};

/// Points that one task measures between two checks for cancellation.
const TASK: usize = 4096;
/// Cosine of the widest angle between an inner triangle's normal and the direction to the skin: 60°.
const LOOKS_COS: f32 = 0.5;
/// Nearer to the skin than this, the skin's own normal gives the direction out of the limb.
const TOUCHING_MM: f32 = 1e-3;

/// Distances of a shell from the skin.
#[derive(Debug, Clone, PartialEq)]
pub struct Clearance {
    /// Distance of each point of the shell from the skin, mm; negative inside the limb.
    pub distance_mm: Vec<f32>,
    /// The face that looks at the skin.
    pub inner: InnerFace,
    /// Its figures; `None` where nothing of the shell looks at the skin.
    pub figures: Option<Figures>,
    spread: Spread,
}

/// Figures of the inner face, by area.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Figures {
    /// The least distance, mm; negative where the shell cuts into the limb.
    pub least_mm: f32,
    /// Half of the face is nearer, mm.
    pub middle_mm: f32,
    /// 95 % of the face is nearer, mm.
    pub most_95_mm: f32,
    /// The greatest distance, mm.
    pub greatest_mm: f32,
}

impl Clearance {
    /// Share of the inner face, 0 to 1 by area, that is nearer to the skin than `limit_mm`; 0 where there is none.
    ///
    /// Distances are taken as linear over each triangle.
    #[must_use]
    pub fn share_below(&self, limit_mm: f32) -> f64 {
        self.spread.below(f64::from(limit_mm))
    }
}

/// Measures how far `shell` stands off `skin`, both in the same axes.
///
/// The sign is that of [`Surface::signed_distance`], so past the open end of a limb it tells the side of the nearest
/// skin.
///
/// # Errors
/// The skin is empty, the shell is broken, or the work was stopped; `job` is checked every 4096 points.
pub fn clearance(skin: &Surface, shell: &Mesh, job: &Job) -> Result<Clearance, FitError> {
    if skin.mesh().triangles.is_empty() {
        return Err(FitError::NoSkin);
    }
    check(shell)?;
    job.step("measuring the gap", 0.0)?;
    let distance_mm: Vec<f32> = measured(&shell.points, job, |p, seed| away(skin, p, seed).map(|(d, _, t)| (d, t)))?;
    job.step("finding the inner face", 0.4)?;
    let middles: Vec<Point3<f32>> = (0..shell.triangles.len())
        .map(|t| {
            let [a, b, c] = shell.corners(t);
            Point3::from((a.coords + b.coords + c.coords) / 3.0)
        })
        .collect();
    let outward = measured(&middles, job, |p, seed| away(skin, p, seed).map(|(_, out, t)| (out, t)))?;
    let looks = job.each(shell.triangles.len(), |t| shell.triangle_normal(t).dot(&outward[t]) < -LOOKS_COS)?;
    job.step("summing up", 0.9)?;
    let inner = InnerFace::new(shell, &looks);
    let spread = inner.spread(shell, &distance_mm);
    let figures = spread.range().map(|(least, greatest)| Figures {
        least_mm: least as f32,
        middle_mm: spread.quantile(0.5).unwrap_or(least) as f32,
        most_95_mm: spread.quantile(0.95).unwrap_or(greatest) as f32,
        greatest_mm: greatest as f32,
    });
    job.step("gap measured", 1.0)?;
    Ok(Clearance { distance_mm, inner, figures, spread })
}

/// One value for each point, each search started from the triangle that the last one found.
fn measured<T: Send + Default>(
    points: &[Point3<f32>],
    job: &Job,
    measure: impl Fn(&Point3<f32>, Option<u32>) -> Option<(T, u32)> + Sync,
) -> Result<Vec<T>, Cancelled> {
    let parts: Vec<Vec<T>> = points
        .par_chunks(TASK)
        .map(|part| {
            job.check()?;
            let mut seed = None;
            let one = |p| match measure(p, seed) {
                Some((value, triangle)) => {
                    seed = Some(triangle);
                    value
                }
                None => T::default(),
            };
            Ok(part.iter().map(one).collect())
        })
        .collect::<Result<_, Cancelled>>()?;
    Ok(parts.into_iter().flatten().collect())
}

/// Signed distance of `p`, the unit direction out of the limb there, and the triangle nearest to it.
fn away(skin: &Surface, p: &Point3<f32>, seed: Option<u32>) -> Option<(f32, Vector3<f32>, u32)> {
    let hit = skin.nearest(p, seed)?;
    let distance = skin.signed_distance(p, &hit);
    let out = if distance.abs() > TOUCHING_MM { (p - hit.point) / distance } else { skin.normal_at(&hit) };
    Some((distance, out, hit.triangle))
}
