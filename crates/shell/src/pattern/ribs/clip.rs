//! Cuts rib lines to the room beside what is in their way.

use mesh::Cancelled;
use nalgebra::Point3;

use super::RibContext;
use super::frames::Obstacles;
use crate::pattern::tangent_frame::TangentFrame;

/// What is left of rib lines, and what had to give way.
pub struct Clipped {
    /// Parts with room along their whole length.
    pub parts: Vec<Vec<Point3<f32>>>,
    /// Sentences for the user.
    pub notices: Vec<String>,
}

/// Shortest step between the points of a part, mm.
const STEP_MM: f32 = 0.5;

/// Keeps the parts of `lines` with room that are at least `least_mm` long.
///
/// # Errors
/// [`Cancelled`] on request; checked for each line.
pub fn clip(
    context: &RibContext<'_>,
    obstacles: &Obstacles<'_>,
    lines: &[Vec<TangentFrame>],
    least_mm: f32,
) -> Result<Clipped, Cancelled> {
    let mut parts = Vec::new();
    let mut dropped = 0;
    for line in lines {
        context.job.check()?;
        let mut part: Vec<Point3<f32>> = Vec::new();
        let mut close = |part: &mut Vec<Point3<f32>>| {
            if part.len() > 1 {
                let length: f32 = part.windows(2).map(|w| (w[1] - w[0]).norm()).sum();
                if length >= least_mm {
                    parts.push(std::mem::take(part));
                } else {
                    dropped += 1;
                }
            }
            part.clear();
        };
        for (i, frame) in line.iter().enumerate() {
            let now = obstacles.clear_mm(context, frame);
            if i > 0 {
                let before = obstacles.clear_mm(context, &line[i - 1]);
                if (before > 0.0) != (now > 0.0) {
                    let (inside, outside) = if now > 0.0 { (frame, &line[i - 1]) } else { (&line[i - 1], frame) };
                    let edge = edge_between(context, obstacles, inside, outside);
                    // The end replaces a point just before it.
                    if part.len() > 1 && part.last().is_some_and(|last| (last - edge).norm() <= STEP_MM) {
                        part.pop();
                    }
                    push(&mut part, edge);
                }
            }
            if now > 0.0 {
                push(&mut part, frame.point());
            } else {
                close(&mut part);
            }
        }
        close(&mut part);
    }
    let mut notices = Vec::new();
    if dropped > 0 {
        let parts = if dropped == 1 { "part of a rib" } else { "parts of ribs" };
        let were = if dropped == 1 { "was" } else { "were" };
        notices.push(format!("{dropped} {parts} shorter than {least_mm:.0} mm {were} left out."));
    }
    Ok(Clipped { parts, notices })
}

/// The last place with room on the way out.
fn edge_between(
    context: &RibContext<'_>,
    obstacles: &Obstacles<'_>,
    inside: &TangentFrame,
    outside: &TangentFrame,
) -> Point3<f32> {
    let way = inside.log_map(outside);
    let (mut good, mut bad) = (0.0, 1.0);
    let mut edge = inside.point();
    for _ in 0..8 {
        let middle = 0.5 * (good + bad);
        match inside.exp_map(context.skin, [way[0] * middle, way[1] * middle]) {
            Some(frame) if obstacles.clear_mm(context, &frame) > 0.0 => {
                good = middle;
                edge = frame.point();
            }
            _ => bad = middle,
        }
    }
    edge
}

fn push(part: &mut Vec<Point3<f32>>, point: Point3<f32>) {
    if part.last().is_none_or(|last| (last - point).norm() > STEP_MM) {
        part.push(point);
    }
}
