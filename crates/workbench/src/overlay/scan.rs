//! The plane at which an end of the limb will be cut, while its slider is dragged.

use std::f32::consts::TAU;

use bevy_egui::egui::{Pos2, Shape, Stroke, Ui, vec2};
use fit::SectionLine;
use mesh::Surface;
use nalgebra::{Point3, Vector3};

use super::Sight;
use super::label;
use crate::desk::Desk;
use crate::look;
use crate::state::scan::Outline;

/// The plane reaches this far beyond the limb, mm.
const BEYOND_MM: f32 = 16.0;

/// Corners of the disc that shows the plane.
const ROUND: usize = 64;

/// An outline found this near to the plane, mm, is shown while the next one is being found.
const NEAR_MM: f32 = 3.0;

/// Draws the planes of the cuts that are being dragged.
pub(super) fn show(ui: &mut Ui, sight: &Sight, desk: &mut Desk<'_>) {
    let derived = desk.bench.session.derived();
    let Some(limb) = derived.limb.value() else { return };
    let hand = desk.view.scan.cuts_in_hand();
    let outlines = &mut desk.view.scan.outlines;
    outlines.keep(derived.limb.serial(), limb, hand.iter().map(|(height_mm, _)| *height_mm));
    for (height_mm, off_mm) in hand {
        plane(ui, sight, &limb.skin, outlines.nearest(height_mm), height_mm, off_mm);
    }
}

/// A disc across the limb, its near half drawn stronger, with its outline on the skin and how much is cut off.
fn plane(ui: &Ui, sight: &Sight, skin: &Surface, outline: Option<&Outline>, height_mm: f32, off_mm: f32) {
    let colours = look::palette(ui.ctx());
    let Some((low, high)) = skin.bounds() else { return };
    let cut: &[SectionLine] = outline.map_or(&[], |outline| &outline.lines);
    let (mut middle, reach_mm) = round(cut.iter().flat_map(|line| &line.points))
        .unwrap_or((nalgebra::center(&low, &high), 0.5 * (high - low).xy().norm()));
    middle.z = height_mm;
    let at = |i: usize| {
        let (sin, cos) = (TAU * i as f32 / ROUND as f32).sin_cos();
        middle + Vector3::new(cos, sin, 0.0) * (reach_mm + BEYOND_MM)
    };
    let ring: Option<Vec<Pos2>> = (0..ROUND).map(|i| sight.see(&at(i))).collect();
    let Some(ring) = ring else { return };
    ui.painter().add(Shape::convex_polygon(ring.clone(), colours.accent.gamma_multiply(0.22), Stroke::NONE));
    let to_eye = Vector3::new(sight.eye.x, sight.eye.y, sight.eye.z) - middle.coords;
    for i in 0..ROUND {
        let near = (at(i) - middle).dot(&to_eye) > 0.0;
        let stroke = if near { Stroke::new(3.0, colours.accent) } else { Stroke::new(1.2, colours.accent) };
        ui.painter().line_segment([ring[i], ring[(i + 1) % ROUND]], stroke);
    }
    let near = outline.is_some_and(|outline| (outline.height_mm - height_mm).abs() < NEAR_MM);
    for line in cut.iter().filter(|_| near) {
        let seen: Option<Vec<Pos2>> = line.points.iter().map(|p| sight.see(p)).collect();
        if let Some(seen) = seen {
            let shape = |width: f32, ink| {
                let stroke = Stroke::new(width, ink);
                if line.closed { Shape::closed_line(seen.clone(), stroke) } else { Shape::line(seen.clone(), stroke) }
            };
            ui.painter().add(shape(4.5, colours.raised));
            ui.painter().add(shape(2.0, colours.ink));
        }
    }
    if let Some(right) = ring.iter().copied().max_by(|a, b| a.x.total_cmp(&b.x)) {
        let text = if off_mm > 0.0 { format!("cut {off_mm:.0} mm") } else { "no cut".to_owned() };
        label(ui, right + vec2(12.0, 8.0), &text);
    }
}

/// Centre of the points' bounding box, and the distance of the farthest point from it.
fn round<'a>(points: impl Iterator<Item = &'a Point3<f32>> + Clone) -> Option<(Point3<f32>, f32)> {
    let mut all = points.clone();
    let first = *all.next()?;
    let (low, high) = all.fold((first, first), |(low, high), p| (low.inf(p), high.sup(p)));
    let middle = nalgebra::center(&low, &high);
    Some((middle, points.map(|p| (p - middle).norm()).fold(0.0, f32::max)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_plane_is_laid_round_what_it_cuts() {
        let points = [Point3::new(-30.0, 0.0, 5.0), Point3::new(50.0, 0.0, 5.0), Point3::new(10.0, 10.0, 5.0)];
        let (middle, reach) = round(points.iter()).unwrap();
        assert_eq!((middle, reach), (Point3::new(10.0, 5.0, 5.0), 40.0_f32.hypot(5.0)));
        assert_eq!(round([].iter()), None);
    }
}
