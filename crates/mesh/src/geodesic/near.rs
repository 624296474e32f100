//! The strip beside the sources: each vertex is measured straight to its nearest source segment.

use nalgebra::{Point3, Vector3};

use super::march::Front;
use crate::job::Every;
use crate::{Cancelled, Job, NONE, NearestFirst, Surface};

/// A straight segment of a source inside one triangle; a point source has both ends in one place.
#[derive(Debug, Clone)]
pub(super) struct SourceSegment {
    pub(super) ends: [Point3<f64>; 2],
    /// Smooth normals of the surface at the two ends.
    pub(super) normals: [Vector3<f64>; 2],
    pub(super) triangle: u32,
    /// The segments before and after on the same line, or [`NONE`].
    pub(super) beside: [u32; 2],
    /// Distance that the source starts with.
    pub(super) start_mm: f64,
}

impl SourceSegment {
    fn foot(&self, x: &Point3<f64>) -> (f64, f64) {
        let along = self.ends[1] - self.ends[0];
        let length2 = along.norm_squared();
        let t = if length2 > 0.0 { ((x - self.ends[0]).dot(&along) / length2).clamp(0.0, 1.0) } else { 0.0 };
        (t, (x - (self.ends[0] + along * t)).norm_squared())
    }

    /// Distance from the source to `x` with surface normal `n`, and its direction of growth there.
    ///
    /// The chord is lengthened to the arc of a curve that leaves both ends in their tangent planes: with the sines
    /// a and b of the angles between chord and planes, the mean square slope of a cubic is (2a² + ab + 2b²)/15 and
    /// equals that of a circular arc with sin²α = (2a² + ab + 2b²)/5, whose length is chord · α / sin α.
    fn measure(&self, x: &Point3<f64>, n: &Vector3<f64>) -> (f64, Vector3<f64>) {
        let (t, _) = self.foot(x);
        let chord = x - (self.ends[0] + (self.ends[1] - self.ends[0]) * t);
        let length = chord.norm();
        if length < 1e-9 {
            return (self.start_mm, Vector3::zeros());
        }
        let there = (self.normals[0] * (1.0 - t) + self.normals[1] * t).try_normalize(1e-9).unwrap_or_default();
        let (a, b) = (chord.dot(n) / length, -chord.dot(&there) / length);
        let q = ((2.0 * a * a + a * b + 2.0 * b * b) / 5.0).sqrt().min(1.0);
        let stretch = if q < 1e-4 { 1.0 } else { q.asin() / q };
        let direction = (chord - n * chord.dot(n)).try_normalize(1e-12).unwrap_or_default();
        (self.start_mm + length * stretch, direction)
    }
}

/// Measures all vertices within two rings of a source or within `band_mm` of it.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub(super) fn fill(
    surface: &Surface,
    segments: &[SourceSegment],
    band_mm: f64,
    front: &mut Front,
    job: &Job,
) -> Result<(), Cancelled> {
    let mesh = surface.mesh();
    let mut queue = NearestFirst::default();
    let mut rings = vec![u8::MAX; mesh.points.len()];
    let offer = |front: &mut Front, queue: &mut NearestFirst<u32>, v: u32, segment: u32, rings: u8| {
        let i = v as usize;
        let x = mesh.points[i].cast::<f64>();
        let segment = nearest_along(segments, segment, &x);
        let source = &segments[segment as usize];
        let (d, g) = source.measure(&x, &surface.vertex_normals()[i].cast());
        if d < front.distance[i] && (rings <= 2 || d - source.start_mm <= band_mm) {
            front.distance[i] = d;
            front.direction[i] = g;
            queue.push(d, v, segment);
        }
    };
    let mut every = Every::new(job, 1024);
    for (i, segment) in segments.iter().enumerate() {
        every.tick()?;
        for v in mesh.triangles[segment.triangle as usize] {
            rings[v as usize] = 0;
            offer(front, &mut queue, v, i as u32, 0);
        }
    }
    while let Some((d, v, segment)) = queue.pop() {
        every.tick()?;
        if d > front.distance[v as usize] {
            continue;
        }
        let next = rings[v as usize].saturating_add(1);
        for t in surface.adjacency().triangles_around(v) {
            for w in mesh.triangles[*t as usize] {
                if w != v {
                    rings[w as usize] = rings[w as usize].min(next);
                    offer(front, &mut queue, w, segment, rings[w as usize]);
                }
            }
        }
    }
    Ok(())
}

/// Walks from `segment` along its line as long as the next one is nearer to `x`.
fn nearest_along(segments: &[SourceSegment], mut segment: u32, x: &Point3<f64>) -> u32 {
    let mut best = segments[segment as usize].foot(x).1;
    for side in [0, 1] {
        // A step over one worse segment is allowed: segments at a triangle border can be vanishingly short.
        let mut at = segment;
        let mut worse = 0;
        while worse < 2 {
            at = segments[at as usize].beside[side];
            if at == NONE {
                break;
            }
            let d = segments[at as usize].foot(x).1;
            if d < best {
                (best, segment, worse) = (d, at, 0);
            } else {
                worse += 1;
            }
        }
    }
    segment
}
