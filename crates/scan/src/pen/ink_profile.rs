//! How the ink lies across a line: where its middle is, how wide it is and how far it stands out.

use mesh::SpatialHash;
use nalgebra::{Point3, Vector3};

use super::polyline::{STEP_MM, bounding_box};
use super::skin_graph::SkinGraph;
use super::statistics::{gaussian_mean, median};

/// Ink reaches at most this far from a line near its middle, mm.
pub(super) const REACH_MM: f32 = 3.0;

/// A sample of the skin: a point with its contrast and the area that it stands for.
pub(super) struct Sample {
    at: Point3<f32>,
    contrast: f32,
    area_mm2: f32,
}

/// Darboux frame of a line on the skin.
pub(super) struct DarbouxFrame {
    tangent: Vector3<f32>,
    /// Across the line within the skin.
    pub conormal: Vector3<f32>,
    normal: Vector3<f32>,
}

pub(super) fn frames_along(graph: &SkinGraph, line: &[Point3<f32>], closed: bool) -> Vec<DarbouxFrame> {
    let n = line.len();
    let mut seed = None;
    (0..n)
        .map(|i| {
            let (back, on) =
                if closed { ((i + n - 1) % n, (i + 1) % n) } else { (i.saturating_sub(1), (i + 1).min(n - 1)) };
            let tangent = (line[on] - line[back]).try_normalize(1e-9).unwrap_or_default();
            let normal = graph.surface.nearest(&line[i], seed).map_or_else(Vector3::zeros, |hit| {
                seed = Some(hit.triangle);
                let [a, b, c] =
                    graph.surface.mesh().triangles[hit.triangle as usize].map(|v| graph.normals[v as usize]);
                a * hit.weights[0] + b * hit.weights[1] + c * hit.weights[2]
            });
            let conormal = normal.cross(&tangent).try_normalize(1e-6).unwrap_or_default();
            DarbouxFrame { tangent, conormal, normal }
        })
        .collect()
}

/// Area of skin to a sample, mm²: fine against the ink's width.
const SAMPLE_MM2: f32 = 0.12;
/// In a tangle, where sheet lies on sheet, no more samples are taken than for this many sheets, and each stands for
/// more skin.
const MOST_SHEETS: f32 = 4.0;

/// Samples the triangles within `reach` of the line.
pub(super) fn samples_near(graph: &SkinGraph, inked: &[f32], line: &[Point3<f32>], reach: f32) -> Vec<Sample> {
    let near_line = SpatialHash::of(reach, line.iter().copied());
    let mesh = graph.surface.mesh();
    // Most triangles lie far from the line: its bounding box rules them out faster than the hash.
    let (low, high) = bounding_box(line, reach);
    let is_near = |t: &usize| {
        let p = mesh.corners(*t);
        let middle = Point3::from((p[0].coords + p[1].coords + p[2].coords) / 3.0);
        middle.coords.inf(&low) == low
            && middle.coords.sup(&high) == high
            && !mesh.triangles[*t].iter().any(|v| graph.unseen[*v as usize])
            && near_line.candidates(&middle).any(|i| (line[i as usize] - middle).norm_squared() < reach * reach)
    };
    let area_mm2 = |t: usize| (mesh.cross(t).norm() / 2.0) as f32;
    let near: Vec<usize> = (0..mesh.triangles.len()).filter(is_near).collect();
    let near_mm2: f32 = near.iter().map(|t| area_mm2(*t)).sum();
    // One sheet along the line is twice as wide as the reach.
    let sheets = near_mm2 / (2.0 * reach * STEP_MM * line.len().max(1) as f32);
    let sample_mm2 = SAMPLE_MM2 * (sheets / MOST_SHEETS).max(1.0);
    let mut samples = Vec::new();
    for t in near {
        let (p, area) = (mesh.corners(t), area_mm2(t));
        let c = mesh.triangles[t].map(|v| inked[v as usize]);
        let cuts = ((area / sample_mm2).sqrt().ceil() as usize).clamp(1, 8);
        for (u, v, w) in centroids_of_subdivision(cuts) {
            samples.push(Sample {
                at: Point3::from(p[0].coords * u + p[1].coords * v + p[2].coords * w),
                contrast: c[0] * u + c[1] * v + c[2] * w,
                area_mm2: area / (cuts * cuts) as f32,
            });
        }
    }
    samples
}

/// Barycentric weights of the centroids of the `n²` equal parts of a triangle.
fn centroids_of_subdivision(n: usize) -> impl Iterator<Item = (f32, f32, f32)> {
    let third = 1.0 / (3.0 * n as f32);
    (0..n).flat_map(move |i| {
        (0..n - i).flat_map(move |j| {
            let (u, v) = ((3 * i + 1) as f32 * third, (3 * j + 1) as f32 * third);
            let upright = Some((u, v, 1.0 - u - v));
            let turned = (i + j + 1 < n).then(|| {
                let (u, v) = ((3 * i + 2) as f32 * third, (3 * j + 2) as f32 * third);
                (u, v, 1.0 - u - v)
            });
            [upright, turned].into_iter().flatten()
        })
    })
}

/// Finds the nearest point of a line.
struct NearLine<'l> {
    line: &'l [Point3<f32>],
    /// Answers for most samples, and looks at few points even where the line runs to and fro, as in a tangle.
    close: SpatialHash,
    far: SpatialHash,
}

impl<'l> NearLine<'l> {
    const CLOSE_MM: f32 = 2.0 * STEP_MM;

    /// For places up to `reach` away from the line.
    fn new(line: &'l [Point3<f32>], reach: f32) -> Self {
        let of = |side| SpatialHash::of(side, line.iter().copied());
        Self { line, close: of(Self::CLOSE_MM), far: of(reach) }
    }

    fn nearest(&self, place: &Point3<f32>) -> Option<usize> {
        let among = |hash: &SpatialHash| {
            hash.candidates(place)
                .map(|i| ((self.line[i as usize] - place).norm_squared(), i as usize))
                .min_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)))
        };
        let close = among(&self.close).filter(|(d2, _)| *d2 <= Self::CLOSE_MM * Self::CLOSE_MM);
        close.or_else(|| among(&self.far)).map(|(_, i)| i)
    }
}

/// The nearest point of the line to each sample within reach: its number and how far across the line the sample lies
/// there.
fn assigned<'s>(
    samples: impl Iterator<Item = &'s Sample>,
    line: &'s [Point3<f32>],
    frames: &'s [DarbouxFrame],
    reach: f32,
) -> impl Iterator<Item = (usize, f32, &'s Sample)> {
    let near_line = NearLine::new(line, reach + 0.5);
    samples.filter_map(move |sample| {
        let near = near_line.nearest(&sample.at)?;
        let frame = &frames[near];
        let d = sample.at - line[near];
        let (x, y, z) = (d.dot(&frame.tangent), d.dot(&frame.conormal), d.dot(&frame.normal));
        (y.abs() <= reach && x.abs() <= 1.0 && z.abs() < 3.0).then_some((near, y, sample))
    })
}

/// How far across each point should move to lie in the middle of the ink around it.
pub(super) fn offsets(
    samples: &[Sample],
    line: &[Point3<f32>],
    frames: &[DarbouxFrame],
    closed: bool,
    ink: f32,
    reach: f32,
) -> Vec<f32> {
    let n = line.len();
    let (mut weight, mut moment) = (vec![0.0_f32; n], vec![0.0_f32; n]);
    let share = |sample: &Sample| ((sample.contrast / ink - 0.25) / 0.75).clamp(0.0, 1.0);
    let inked = samples.iter().filter(|sample| share(sample) > 0.0);
    for (i, y, sample) in assigned(inked, line, frames, reach) {
        let w = share(sample) * sample.area_mm2;
        weight[i] += w;
        moment[i] += w * y;
    }
    let weight = gaussian_mean(&weight, closed, 1.6);
    let moment = gaussian_mean(&moment, closed, 1.6);
    let full = weight.iter().copied().fold(0.0_f32, f32::max);
    // Where there is little ink the line keeps its place, and the passes of smoothing carry it over the gap.
    (0..n).map(|i| moment[i] / weight[i].max(0.15 * full).max(1e-6)).collect()
}

/// By how much the middle of the line stands out against the less inked of its two sides, at each point. A stain wider
/// than the line, or a filled hole, does not count as ink.
pub(super) fn ink_along(
    samples: &[Sample],
    line: &[Point3<f32>],
    frames: &[DarbouxFrame],
    closed: bool,
    width_mm: f32,
) -> Vec<f32> {
    const MIDDLE_MM: f32 = 0.8;
    let beside = 0.5 * width_mm + 0.7..=0.5 * width_mm + 2.2;
    let n = line.len();
    let (mut sum, mut area) = ([0, 1, 2].map(|_| vec![0.0_f32; n]), [0, 1, 2].map(|_| vec![0.0_f32; n]));
    let reach = *beside.end();
    for (i, y, sample) in assigned(samples.iter(), line, frames, reach) {
        let part = if y.abs() <= MIDDLE_MM {
            0
        } else if beside.contains(&y.abs()) {
            if y > 0.0 { 1 } else { 2 }
        } else {
            continue;
        };
        sum[part][i] += sample.contrast * sample.area_mm2;
        area[part][i] += sample.area_mm2;
    }
    let (sum, area) = (sum.map(|s| gaussian_mean(&s, closed, 0.7)), area.map(|a| gaussian_mean(&a, closed, 0.7)));
    (0..n)
        .map(|i| {
            let mean = |k: usize| (area[k][i] > 0.1).then(|| sum[k][i] / area[k][i]);
            let skin = match (mean(1), mean(2)) {
                (Some(l), Some(r)) => l.min(r),
                (l, r) => l.or(r).unwrap_or(0.0),
            };
            // Ink counts in full only where at least half of the middle strip was seen.
            let seen = (area[0][i] / (MIDDLE_MM * STEP_MM)).min(1.0);
            mean(0).map_or(0.0, |m| seen * (m - skin))
        })
        .collect()
}

/// Width of a stripe of full ink that has as much ink across it as the line usually has, mm.
pub(super) fn width(samples: &[Sample], line: &[Point3<f32>], frames: &[DarbouxFrame], ink: f32) -> f32 {
    let mut across = vec![0.0_f32; line.len()];
    let mut middle = Vec::new();
    for (i, y, sample) in assigned(samples.iter(), line, frames, REACH_MM) {
        // Bare skin is as often a little lighter as a little darker than usual, so it cancels out.
        across[i] += sample.contrast * sample.area_mm2 / STEP_MM;
        if y.abs() < 0.4 {
            middle.push(sample.contrast);
        }
    }
    if middle.is_empty() {
        return 0.0;
    }
    let rank = middle.len() * 9 / 10;
    let full = *middle.select_nth_unstable_by(rank, f32::total_cmp).1;
    median(across) / full.max(ink)
}

#[cfg(test)]
mod tests {
    use mesh::{Job, Surface};
    use test_shapes::{Diagonals, height_field};

    use super::*;

    #[test]
    fn the_parts_of_a_subdivided_triangle_balance_at_its_centroid() {
        for n in 1..6 {
            let parts: Vec<_> = centroids_of_subdivision(n).collect();
            assert_eq!(parts.len(), n * n);
            let sum = parts.iter().fold([0.0; 3], |s, (u, v, w)| [s[0] + u, s[1] + v, s[2] + w]);
            for part in sum {
                assert!((part / (n * n) as f32 - 1.0 / 3.0).abs() < 1e-5);
            }
            assert!(parts.iter().all(|(u, v, w)| u.min(*v).min(*w) > 0.0 && (u + v + w - 1.0).abs() < 1e-5));
        }
    }

    #[test]
    fn of_stacked_sheets_few_samples_are_taken_and_they_stand_for_all_of_the_skin() {
        let sheet = height_field(30, 30, 2.0, Diagonals::Alternate, |_, _| 0.0);
        let line: Vec<Point3<f32>> = (0..30).map(|i| Point3::new(15.0 + i as f32, 30.0, 0.0)).collect();
        let near = |sheets: u32| {
            let stack =
                (1..sheets).fold(sheet.clone(), |all, k| all.and(&sheet.clone().moved([0.0, 0.0, 0.01 * k as f32])));
            let skin: Surface = stack.build();
            let graph = SkinGraph::new(&skin, &[], &Job::silent()).unwrap();
            let samples = samples_near(&graph, &vec![0.0; skin.mesh().points.len()], &line, 7.0);
            (samples.len() as f32, samples.iter().map(|sample| sample.area_mm2).sum::<f32>())
        };
        let ((one, area), (forty, all)) = (near(1), near(40));
        assert!(forty < 2.0 * MOST_SHEETS * one, "{one} {forty}");
        assert!((all / area - 40.0).abs() < 0.5, "{area} {all}");
    }
}
