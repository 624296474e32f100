//! Vents that get smaller towards the edge of the zone.

use super::{Vent, VentContext};
use crate::Shape;
use crate::limits;
use crate::profile::smooth_step;

/// The vents, each smaller the nearer it is to the trim line, as the setting says; none smaller than vents may be.
pub fn graded(context: &VentContext<'_>, vents: Vec<Vent>) -> Vec<Vent> {
    let grade = 0.01 * context.vents.grade_percent;
    if grade <= 0.0 {
        return vents;
    }
    let depth = |vent: &Vent| context.skin.interpolate(context.trim_mm, &vent.frame.hit);
    let bounds = vents.iter().map(depth).fold((f32::INFINITY, 0.0_f32), |(low, high), d| (low.min(d), high.max(d)));
    let least = (limits::VENT_SIZE.least / context.vents.size_mm).min(1.0);
    vents
        .into_iter()
        .map(|vent| {
            let inward = (depth(&vent) - bounds.0) / (bounds.1 - bounds.0).max(1e-3);
            let share = (1.0 - grade * (1.0 - smooth_step(inward))).max(least);
            Vent { shape: scaled(vent.shape, share), ..vent }
        })
        .collect()
}

/// A shape about its middle, which is at the origin.
fn scaled(shape: Shape, share: f32) -> Shape {
    let by = |p: [f32; 2]| p.map(|x| x * share);
    match shape {
        Shape::Circle { centre, radius } => Shape::Circle { centre: by(centre), radius: radius * share },
        Shape::Slot { from, to, radius } => Shape::Slot { from: by(from), to: by(to), radius: radius * share },
        Shape::RoundedPolygon { corners, round } => {
            Shape::RoundedPolygon { corners: corners.into_iter().map(by).collect(), round: round * share }
        }
        Shape::RoundedBox { centre, direction, half, round } => {
            Shape::RoundedBox { centre: by(centre), direction, half: by(half), round: round * share }
        }
        drawing @ Shape::Drawing { .. } => drawing,
    }
}
