//! Moves a rough line into the middle of the ink and says how much ink there is along it.

use mesh::{Cancelled, Job};
use nalgebra::{Point3, Vector3};

use super::boxes::Boxes;
use super::skin_graph::SkinGraph;

/// A line in the middle of its ink.
pub(super) struct Centred {
    /// Points about one millimetre apart; the last joins the first if the line is closed.
    pub points: Vec<Point3<f32>>,
    /// For each point by how much the middle of the line stands out against the skin beside it.
    pub stand_out: Vec<f32>,
    /// Width that ink as full as on the line would have, mm.
    pub width_mm: f32,
}

const STEP_MM: f32 = 1.0;
/// How far from the line ink is still taken for its own, mm: at first, and once it is near.
const FIRST_REACH_MM: f32 = 4.0;
const LAST_REACH_MM: f32 = 3.0;
const ROUNDS: usize = 6;
/// Where there is less than this share of the usual ink across the line, there is a gap.
pub(super) const GAP_SHARE: f32 = 0.4;

/// A bit of skin: a point with contrast and area.
struct Speck {
    at: Point3<f32>,
    contrast: f32,
    area_mm2: f32,
}

/// Centres a line through beads in the ink. `ink` is the usual contrast in the middle of the line.
pub(super) fn centre(
    graph: &SkinGraph,
    inked: &[f32],
    rough: &[Point3<f32>],
    closed: bool,
    ink: f32,
    job: &Job,
) -> Result<Centred, Cancelled> {
    let mut line = resample(rough, closed);
    for _ in 0..2 {
        smooth(&mut line, closed, 0.5);
    }
    line = resample(&line, closed);
    let specks = specks_near(graph, inked, &line, 7.0);
    let mut width_mm = 2.0 * LAST_REACH_MM;
    for round in 0..ROUNDS {
        job.check()?;
        let reach = if round < 2 { FIRST_REACH_MM } else { LAST_REACH_MM.min(0.5 * width_mm + 1.0) };
        let frames = frames_on(graph, &line, closed);
        let offsets = offsets(&specks, &line, &frames, closed, ink, reach);
        for (p, (frame, d)) in line.iter_mut().zip(frames.iter().zip(&offsets)) {
            *p += frame.across * d.clamp(-1.5, 1.5);
        }
        // Taubin's pair of passes takes the zigzag out and leaves the size.
        for _ in 0..2 {
            smooth(&mut line, closed, 0.5);
            smooth(&mut line, closed, -0.53);
        }
        lay_on_skin(graph, &mut line);
        line = resample(&line, closed);
        if round == 1 || round == ROUNDS - 1 {
            let frames = frames_on(graph, &line, closed);
            width_mm = width(&specks, &line, &frames, ink);
            let stand_out = ink_along(&specks, &line, &frames, closed, width_mm);
            line = bridged(graph, &line, &stand_out, closed);
        }
    }
    if !closed {
        prolong(graph, &mut line);
    }
    let mut stand_out = ink_along(&specks, &line, &frames_on(graph, &line, closed), closed, width_mm);
    if !closed {
        cut_to_ink(&mut line, &mut stand_out);
    }
    Ok(Centred { points: line, stand_out, width_mm })
}

/// Replaces the line where there is no ink by a curve that leaves and meets the ink the way the ink itself runs.
fn bridged(graph: &SkinGraph, line: &[Point3<f32>], stand_out: &[f32], closed: bool) -> Vec<Point3<f32>> {
    /// Ink beside a hole is cut askew; the curve starts this many points before.
    const BACK: usize = 2;
    /// Points between those that give the direction of the ink.
    const STRIDE: usize = 4;
    let n = line.len();
    let least = GAP_SHARE * median(stand_out);
    let bare: Vec<bool> = stand_out.iter().map(|m| *m < least).collect();
    let margin = BACK + 2 * STRIDE;
    let Some(start) = bare.iter().position(|b| !b) else { return line.to_vec() };
    if n < 4 * margin {
        return line.to_vec();
    }
    let mut out = line.to_vec();
    let mut k = 0;
    while k < n {
        let from = start + k;
        let run = (0..n - k).take_while(|r| bare[(from + r) % n]).count();
        k += run.max(1);
        if run < 3 || (!closed && (from < margin || from + run + margin >= n)) {
            continue;
        }
        let at = |i: usize| line[(i + n) % n];
        let (a, b) = (from + n - 1 - BACK, from + run + BACK);
        // Second-order one-sided differences, so that a bend is carried on into the gap.
        let leave = (at(a) - at(a - STRIDE)) * 2.0 - (at(a) - at(a - 2 * STRIDE)) * 0.5;
        let meet = (at(b + STRIDE) - at(b)) * 2.0 - (at(b + 2 * STRIDE) - at(b)) * 0.5;
        let span = (at(b) - at(a)).norm();
        let leave = leave.try_normalize(1e-6).unwrap_or_default() * span;
        let meet = meet.try_normalize(1e-6).unwrap_or_default() * span;
        let steps = b + n - a;
        let steps = if steps > n { steps - n } else { steps };
        let mut curve: Vec<Point3<f32>> = (1..steps)
            .map(|i| {
                let t = i as f32 / steps as f32;
                let u = 1.0 - t;
                let (h0, h1) = (u * u * (1.0 + 2.0 * t), t * t * (3.0 - 2.0 * t));
                Point3::from(at(a).coords * h0 + at(b).coords * h1 + leave * (t * u * u) - meet * (t * t * u))
            })
            .collect();
        lay_on_skin(graph, &mut curve);
        for (i, p) in curve.into_iter().enumerate() {
            out[(a + 1 + i) % n] = p;
        }
    }
    resample(&out, closed)
}

/// The middle one of the values; 0 without any.
fn median(values: &[f32]) -> f32 {
    let mut sorted = values.to_vec();
    let middle = sorted.len() / 2;
    if sorted.is_empty() { 0.0 } else { *sorted.select_nth_unstable_by(middle, f32::total_cmp).1 }
}

/// Carries both ends of an open line straight on, to look for the very end of the ink.
fn prolong(graph: &SkinGraph, line: &mut Vec<Point3<f32>>) {
    const STEPS: usize = 4;
    for _ in 0..2 {
        if let [.., before, _, _, last] = line[..]
            && let Some(way) = (last - before).try_normalize(1e-6)
        {
            let mut more: Vec<Point3<f32>> = (1..=STEPS).map(|k| last + way * (k as f32 * STEP_MM)).collect();
            lay_on_skin(graph, &mut more);
            line.append(&mut more);
        }
        line.reverse();
    }
}

/// Takes off what lies beyond the ink at both ends of an open line.
fn cut_to_ink(line: &mut Vec<Point3<f32>>, stand_out: &mut Vec<f32>) {
    let least = 0.5 * median(stand_out);
    let (Some(first), Some(last)) =
        (stand_out.iter().position(|m| *m >= least), stand_out.iter().rposition(|m| *m >= least))
    else {
        return;
    };
    line.truncate(last + 1);
    stand_out.truncate(last + 1);
    line.drain(..first);
    stand_out.drain(..first);
}

/// Points one step apart along a polyline.
pub(super) fn resample(line: &[Point3<f32>], closed: bool) -> Vec<Point3<f32>> {
    let n = line.len();
    if n < 2 {
        return line.to_vec();
    }
    let sides = if closed { n } else { n - 1 };
    let length = |i: usize| (line[(i + 1) % n] - line[i]).norm();
    let total: f32 = (0..sides).map(length).sum();
    let steps = ((total / STEP_MM).round() as usize).max(3);
    let step = total / steps as f32;
    let (mut out, mut side, mut before) = (Vec::with_capacity(steps + 1), 0, 0.0_f32);
    for k in 0..if closed { steps } else { steps + 1 } {
        let target = k as f32 * step;
        while side + 1 < sides && before + length(side) < target {
            before += length(side);
            side += 1;
        }
        let l = length(side);
        let f = if l > 0.0 { ((target - before) / l).clamp(0.0, 1.0) } else { 0.0 };
        out.push(line[side] + (line[(side + 1) % n] - line[side]) * f);
    }
    out
}

/// Moves each point by `share` of the way to the middle of its neighbours.
pub(super) fn smooth(line: &mut [Point3<f32>], closed: bool, share: f32) {
    let n = line.len();
    if n < 3 {
        return;
    }
    let old = line.to_vec();
    for i in 0..n {
        if closed || (i > 0 && i + 1 < n) {
            let middle = nalgebra::center(&old[(i + n - 1) % n], &old[(i + 1) % n]);
            line[i] = old[i] + (middle - old[i]) * share;
        }
    }
}

/// Puts points on the nearest skin, except where there is none under them.
pub(super) fn lay_on_skin(graph: &SkinGraph, line: &mut [Point3<f32>]) {
    let mut seed = None;
    for p in line {
        if let Some(hit) = graph.surface.nearest(p, seed) {
            seed = Some(hit.triangle);
            if !graph.is_unseen(&hit) {
                *p = hit.point;
            }
        }
    }
}

struct Frame {
    along: Vector3<f32>,
    across: Vector3<f32>,
    normal: Vector3<f32>,
}

fn frames_on(graph: &SkinGraph, line: &[Point3<f32>], closed: bool) -> Vec<Frame> {
    let n = line.len();
    let mut seed = None;
    (0..n)
        .map(|i| {
            let (back, on) =
                if closed { ((i + n - 1) % n, (i + 1) % n) } else { (i.saturating_sub(1), (i + 1).min(n - 1)) };
            let along = (line[on] - line[back]).try_normalize(1e-9).unwrap_or_default();
            let normal = graph.surface.nearest(&line[i], seed).map_or_else(Vector3::zeros, |hit| {
                seed = Some(hit.triangle);
                let [a, b, c] =
                    graph.surface.mesh().triangles[hit.triangle as usize].map(|v| graph.normals[v as usize]);
                a * hit.weights[0] + b * hit.weights[1] + c * hit.weights[2]
            });
            let across = normal.cross(&along).try_normalize(1e-6).unwrap_or_default();
            Frame { along, across, normal }
        })
        .collect()
}

/// Cuts the triangles near the line into specks small against the ink's width.
fn specks_near(graph: &SkinGraph, inked: &[f32], line: &[Point3<f32>], reach: f32) -> Vec<Speck> {
    let boxes = Boxes::of(reach, line.iter());
    let mesh = graph.surface.mesh();
    let mut specks = Vec::new();
    for (t, corners) in mesh.triangles.iter().enumerate() {
        if corners.iter().any(|v| graph.unseen[*v as usize]) {
            continue;
        }
        let p = mesh.corners(t);
        let middle = Point3::from((p[0].coords + p[1].coords + p[2].coords) / 3.0);
        if !boxes.around(&middle).any(|i| (line[i as usize] - middle).norm_squared() < reach * reach) {
            continue;
        }
        let area = (mesh.cross(t).norm() / 2.0) as f32;
        let c = corners.map(|v| inked[v as usize]);
        let cuts = ((area / 0.12).sqrt().ceil() as usize).clamp(1, 8);
        for (u, v, w) in middles_of_cut_triangle(cuts) {
            specks.push(Speck {
                at: Point3::from(p[0].coords * u + p[1].coords * v + p[2].coords * w),
                contrast: c[0] * u + c[1] * v + c[2] * w,
                area_mm2: area / (cuts * cuts) as f32,
            });
        }
    }
    specks
}

/// Weights of the middles of the `n²` equal parts of a triangle.
fn middles_of_cut_triangle(n: usize) -> impl Iterator<Item = (f32, f32, f32)> {
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

/// The nearest point of the line to each speck within reach: its number and the speck's place along and across.
fn assigned<'s>(
    specks: &'s [Speck],
    line: &'s [Point3<f32>],
    frames: &'s [Frame],
    reach: f32,
    boxes: &'s Boxes,
) -> impl Iterator<Item = (usize, f32, f32, &'s Speck)> {
    specks.iter().filter_map(move |speck| {
        let near = boxes
            .around(&speck.at)
            .map(|i| ((line[i as usize] - speck.at).norm_squared(), i as usize))
            .min_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)))?;
        let frame = &frames[near.1];
        let d = speck.at - line[near.1];
        let (x, y, z) = (d.dot(&frame.along), d.dot(&frame.across), d.dot(&frame.normal));
        (y.abs() <= reach && x.abs() <= 1.0 && z.abs() < 3.0).then_some((near.1, x, y, speck))
    })
}

/// How far across each point should move to lie in the middle of the ink around it.
fn offsets(specks: &[Speck], line: &[Point3<f32>], frames: &[Frame], closed: bool, ink: f32, reach: f32) -> Vec<f32> {
    let n = line.len();
    let (mut weight, mut moment) = (vec![0.0_f32; n], vec![0.0_f32; n]);
    let boxes = Boxes::of(reach + 0.5, line.iter());
    for (i, _, y, speck) in assigned(specks, line, frames, reach, &boxes) {
        let w = ((speck.contrast / ink - 0.25) / 0.75).clamp(0.0, 1.0) * speck.area_mm2;
        weight[i] += w;
        moment[i] += w * y;
    }
    let weight = blur(&weight, closed, 1.6);
    let moment = blur(&moment, closed, 1.6);
    let full = weight.iter().copied().fold(0.0_f32, f32::max);
    // Where there is little ink the line keeps its place, and the passes of smoothing carry it over the gap.
    (0..n).map(|i| moment[i] / weight[i].max(0.15 * full).max(1e-6)).collect()
}

/// By how much the middle of the line stands out against the paler of its two sides, at each point. A stain wider
/// than the line, or a filled hole, is no ink.
fn ink_along(specks: &[Speck], line: &[Point3<f32>], frames: &[Frame], closed: bool, width_mm: f32) -> Vec<f32> {
    const MIDDLE_MM: f32 = 0.8;
    let beside = 0.5 * width_mm + 0.7..=0.5 * width_mm + 2.2;
    let n = line.len();
    let (mut sum, mut area) = ([0, 1, 2].map(|_| vec![0.0_f32; n]), [0, 1, 2].map(|_| vec![0.0_f32; n]));
    let reach = *beside.end();
    let boxes = Boxes::of(reach + 0.5, line.iter());
    for (i, _, y, speck) in assigned(specks, line, frames, reach, &boxes) {
        let part = if y.abs() <= MIDDLE_MM {
            0
        } else if beside.contains(&y.abs()) {
            if y > 0.0 { 1 } else { 2 }
        } else {
            continue;
        };
        sum[part][i] += speck.contrast * speck.area_mm2;
        area[part][i] += speck.area_mm2;
    }
    let (sum, area) = (sum.map(|s| blur(&s, closed, 0.7)), area.map(|a| blur(&a, closed, 0.7)));
    (0..n)
        .map(|i| {
            let mean = |k: usize| (area[k][i] > 0.1).then(|| sum[k][i] / area[k][i]);
            let skin = match (mean(1), mean(2)) {
                (Some(l), Some(r)) => l.min(r),
                (l, r) => l.or(r).unwrap_or(0.0),
            };
            // Half of the middle must be there to tell that it is inked.
            let seen = (area[0][i] / (MIDDLE_MM * STEP_MM)).min(1.0);
            mean(0).map_or(0.0, |m| seen * (m - skin))
        })
        .collect()
}

/// Width that ink as full as on the line would have: the usual contrast times width over the full contrast.
fn width(specks: &[Speck], line: &[Point3<f32>], frames: &[Frame], ink: f32) -> f32 {
    let mut across = vec![0.0_f32; line.len()];
    let mut middle = Vec::new();
    let boxes = Boxes::of(LAST_REACH_MM + 0.5, line.iter());
    for (i, _, y, speck) in assigned(specks, line, frames, LAST_REACH_MM, &boxes) {
        // Bare skin is as often a little lighter as a little darker than usual, so it cancels out.
        across[i] += speck.contrast * speck.area_mm2 / STEP_MM;
        if y.abs() < 0.4 {
            middle.push(speck.contrast);
        }
    }
    if middle.is_empty() {
        return 0.0;
    }
    let rank = middle.len() * 9 / 10;
    let full = *middle.select_nth_unstable_by(rank, f32::total_cmp).1;
    median(&across) / full.max(ink)
}

/// Gaussian mean along the line, sigma in points.
fn blur(values: &[f32], closed: bool, sigma: f32) -> Vec<f32> {
    let n = values.len() as i64;
    let reach = (3.0 * sigma).ceil() as i64;
    (0..n)
        .map(|i| {
            let (mut sum, mut weight) = (0.0, 0.0);
            for k in -reach..=reach {
                let j = i + k;
                if closed || (0..n).contains(&j) {
                    let w = (-0.5 * (k as f32 / sigma).powi(2)).exp();
                    sum += w * values[j.rem_euclid(n) as usize];
                    weight += w;
                }
            }
            sum / weight
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_parts_of_a_cut_triangle_balance_at_its_middle() {
        for n in 1..6 {
            let parts: Vec<_> = middles_of_cut_triangle(n).collect();
            assert_eq!(parts.len(), n * n);
            let sum = parts.iter().fold((0.0, 0.0, 0.0), |s, p| (s.0 + p.0, s.1 + p.1, s.2 + p.2));
            for part in [sum.0, sum.1, sum.2] {
                assert!((part / (n * n) as f32 - 1.0 / 3.0).abs() < 1e-5);
            }
        }
    }

    #[test]
    fn resampling_a_square_keeps_its_length() {
        let p = |x: f32, y: f32| Point3::new(x, y, 0.0);
        let line = resample(&[p(0., 0.), p(10., 0.), p(10., 10.), p(0., 10.)], true);
        assert_eq!(line.len(), 40);
        assert!((line[1] - line[0]).norm() - 1.0 < 1e-5);
    }
}
