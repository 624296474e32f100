//! Moves a rough line into the middle of the ink and says how much ink there is along it.

use mesh::{Cancelled, Job};
use nalgebra::Point3;

use super::ink_profile::{REACH_MM, frames_along, ink_along, offsets, samples_near, width};
use super::polyline::{STEP_MM, lay_on_skin, resample, smooth};
use super::skin_graph::SkinGraph;
use super::statistics::median;

/// A line in the middle of its ink.
pub(super) struct Centred {
    /// Points about one millimetre apart; the last joins the first if the line is closed.
    pub points: Vec<Point3<f32>>,
    /// For each point by how much the middle of the line stands out against the skin beside it.
    pub stand_out: Vec<f32>,
    /// Width of a stripe of full ink that has as much ink across it as the line, mm.
    pub width_mm: f32,
}

/// In the first rounds, ink up to this far from the line is taken for its own, mm.
const FIRST_REACH_MM: f32 = 4.0;
const ROUNDS: usize = 6;
/// Where there is less than this share of the usual ink across the line, there is a gap.
pub(super) const GAP_SHARE: f32 = 0.4;

/// Centres a line through ridge points of the ink. `ink` is the usual contrast in the middle of the line.
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
    let samples = samples_near(graph, inked, &line, 7.0);
    let mut width_mm = 2.0 * REACH_MM;
    for round in 0..ROUNDS {
        job.check()?;
        let reach = if round < 2 { FIRST_REACH_MM } else { REACH_MM.min(0.5 * width_mm + 1.0) };
        let frames = frames_along(graph, &line, closed);
        let offsets = offsets(&samples, &line, &frames, closed, ink, reach);
        for (p, (frame, d)) in line.iter_mut().zip(frames.iter().zip(&offsets)) {
            *p += frame.conormal * d.clamp(-1.5, 1.5);
        }
        // Taubin's pair of passes takes the zigzag out and leaves the size.
        for _ in 0..2 {
            smooth(&mut line, closed, 0.5);
            smooth(&mut line, closed, -0.53);
        }
        lay_on_skin(graph, &mut line);
        line = resample(&line, closed);
        if round == 1 || round == ROUNDS - 1 {
            let frames = frames_along(graph, &line, closed);
            width_mm = width(&samples, &line, &frames, ink);
            let stand_out = ink_along(&samples, &line, &frames, closed, width_mm);
            line = bridged(graph, &line, &stand_out, closed);
        }
    }
    if !closed {
        prolong(graph, &mut line);
    }
    let mut stand_out = ink_along(&samples, &line, &frames_along(graph, &line, closed), closed, width_mm);
    if !closed {
        cut_to_ink(&mut line, &mut stand_out);
    }
    Ok(Centred { points: line, stand_out, width_mm })
}

/// Replaces the line where there is no ink by a curve that leaves and meets the ink in the ink's own direction.
fn bridged(graph: &SkinGraph, line: &[Point3<f32>], stand_out: &[f32], closed: bool) -> Vec<Point3<f32>> {
    /// Ink beside a hole is cut askew, so the curve starts this many points before.
    const BACK: usize = 2;
    /// Points between those that give the direction of the ink.
    const STRIDE: usize = 4;
    let n = line.len();
    let least = GAP_SHARE * median(stand_out.iter().copied());
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
    let least = 0.5 * median(stand_out.iter().copied());
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
