//! How steep a value is over the skin.

use mesh::{Cancelled, Job, Surface};
use nalgebra::Vector3;

/// Triangles between two checks for cancellation.
const TRIANGLES_A_LOOK: usize = 65_536;

/// The square of the slope of a value over the skin at each vertex, where it is linear in each triangle: the mean of the
/// slopes of the triangles round it, weighted by area.
///
/// # Errors
/// [`Cancelled`] on request.
pub(super) fn slopes2(skin: &Surface, values: &[f32], job: &Job) -> Result<Vec<f32>, Cancelled> {
    let mesh = skin.mesh();
    let (mut sums, mut areas) = (vec![Vector3::<f32>::zeros(); values.len()], vec![0.0_f32; values.len()]);
    for (t, corners) in mesh.triangles.iter().enumerate() {
        if t % TRIANGLES_A_LOOK == 0 {
            job.check()?;
        }
        let [a, b, c] = mesh.corners(t);
        let [x, y, z] = corners.map(|v| values[v as usize]);
        let cross = (b - a).cross(&(c - a));
        let twice = cross.norm();
        if twice < 1e-9 {
            continue;
        }
        // The gradient of a linear function times twice the area: the turned sides, each with the value across from it.
        let turned = |side: Vector3<f32>| cross.cross(&side) / twice;
        let slope = turned(c - b) * x + turned(a - c) * y + turned(b - a) * z;
        for v in corners {
            sums[*v as usize] += slope;
            areas[*v as usize] += twice;
        }
    }
    Ok(sums.iter().zip(areas).map(|(sum, area)| (sum / area.max(1e-9)).norm_squared()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample_skins::{Rough, flat, tube};

    #[test]
    fn a_plane_has_its_slope_everywhere_and_a_turn_round_a_tube_too() {
        let skin = flat(40.0, 40.0, 1.0);
        let values: Vec<f32> = skin.mesh().points.iter().map(|p| 0.6 * p.x - 0.8 * p.z + 7.0).collect();
        for slope in slopes2(&skin, &values, &Job::silent()).unwrap() {
            assert!((slope - 1.0).abs() < 1e-3, "{slope}");
        }
        let skin = tube(30.0, 60.0, 1.0, Rough::default());
        let values: Vec<f32> = skin.mesh().points.iter().map(|p| 0.5 * p.z).collect();
        for (p, slope) in skin.mesh().points.iter().zip(slopes2(&skin, &values, &Job::silent()).unwrap()) {
            assert!(p.z.abs() > 28.0 || (slope - 0.25).abs() < 1e-3, "{slope}");
        }
    }
}
