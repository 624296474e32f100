//! Letters beside the regions on the limb, as in the panel, so that a colour is never the only sign.

use std::sync::Arc;

use bevy_egui::egui::{Align2, FontId, Pos2, Stroke, Ui, Vec2};
use engine::LimbOnAxes;
use mesh::{Job, Surface};
use nalgebra::{Point3, Vector3};
use session::{Outcome, Task, marking};
use zone::Sketch;

use super::Sight;
use super::label;
use crate::look;
use crate::mark::{Aim, kind_name};
use crate::panel::Desk;

/// Most spots of a region that bear its letter.
const SPOTS: usize = 12;
/// Places of a spot that its letter may point at.
const PLACES: usize = 8;
/// From the place to its letter, in the window.
const ASIDE: Vec2 = Vec2::new(34.0, -30.0);
/// Half the size of a letter's field.
const HALF: f32 = 12.0;

/// A spot of a region: places all over it, from which the letter points into it wherever it is seen from.
type Spot = Vec<(Point3<f32>, Vector3<f32>)>;

/// Where the letters point, found in the background for what is marked.
#[derive(Debug, Default)]
pub struct Letters {
    /// Serial of the sketch that they were last asked for.
    asked: u64,
    finding: Task<Vec<Vec<Spot>>>,
    /// The spots of each region, the biggest first.
    spots: Vec<Vec<Spot>>,
}

impl Letters {
    fn keep(&mut self, serial: u64, limb: &Arc<LimbOnAxes>, sketch: &Arc<Sketch>) {
        if let Some(Outcome::Done(found)) = self.finding.take() {
            self.spots = found;
        }
        // What is being found is let come to its end, so that letters follow a long stroke.
        if self.asked != serial && !self.finding.is_running() {
            self.asked = serial;
            let (limb, sketch) = (Arc::clone(limb), Arc::clone(sketch));
            self.finding
                .start(move |job| sketch.regions_mm.iter().map(|depths| spots(&limb.skin, depths, job)).collect());
        }
    }
}

/// Draws a letter beside every spot of a region that is in sight, and what it is beside the biggest of them.
pub(super) fn show(ui: &Ui, sight: &Sight, desk: &mut Desk<'_>) {
    let derived = desk.bench.session.derived();
    let (Some(limb), Some(sketch), Some(design)) =
        (derived.limb.value(), derived.sketch.value(), desk.bench.session.design())
    else {
        return;
    };
    let letters = &mut desk.view.marking.letters;
    letters.keep(derived.sketch.serial(), limb, sketch);
    let colours = look::palette(ui.ctx());
    let mut taken: Vec<Pos2> = Vec::new();
    for (number, (region, spots)) in design.zone.regions.iter().zip(&letters.spots).enumerate() {
        let mut named = false;
        for spot in spots {
            let seen = spot.iter().find(|(p, n)| sight.faces(p, n) && !sight.hidden(&limb.skin, p));
            let Some(foot) = seen.and_then(|(p, _)| sight.see(p)).filter(|p| sight.field.contains(*p)) else {
                continue;
            };
            let mut at = foot + ASIDE;
            while taken.iter().any(|other| (other.y - at.y).abs() < 2.4 * HALF && (other.x - at.x).abs() < 130.0) {
                at.y -= 2.4 * HALF;
            }
            taken.push(at);
            let ink = if desk.view.marking.aim == Aim::Region(number) { colours.accent } else { colours.ink };
            ui.painter().line_segment([foot, at], Stroke::new(3.5, colours.raised));
            ui.painter().line_segment([foot, at], Stroke::new(1.5, ink));
            ui.painter().circle(foot, 3.5, ink, Stroke::new(1.5, colours.raised));
            if !named {
                label(ui, at + Vec2::new(HALF + 12.0, 9.0), kind_name(region.kind));
                named = true;
            }
            ui.painter().circle(at, HALF, colours.raised, Stroke::new(1.8, ink));
            let letter = marking::letter(number);
            let size = if letter.len() > 1 { 12.0 } else { 15.0 };
            ui.painter().text(at, Align2::CENTER_CENTER, letter, FontId::proportional(size), ink);
        }
    }
}

/// The spots of a region with their places.
fn spots(skin: &Surface, depths_mm: &[f32], job: &Job) -> Vec<Spot> {
    // What was stopped is not shown.
    let found = zone::connected_components(skin, depths_mm, job).unwrap_or_default();
    found.iter().take(SPOTS).map(|spot| places(skin, depths_mm, spot)).collect()
}

/// Places of a spot all round the limb: its deepest first, then each time the one farthest from those before it.
fn places(skin: &Surface, depths_mm: &[f32], spot: &[u32]) -> Spot {
    let (points, normals) = (&skin.mesh().points, skin.vertex_normals());
    let depth = |v: u32| depths_mm[v as usize];
    let Some(first) = spot.iter().copied().max_by(|a, b| depth(*a).total_cmp(&depth(*b))) else { return Vec::new() };
    // Well inside, so that the foot of the letter's line lies on the colour.
    let inside: Vec<usize> = spot.iter().filter(|v| depth(**v) >= 0.4 * depth(first)).map(|v| *v as usize).collect();
    let mut away: Vec<f32> = vec![f32::INFINITY; inside.len()];
    let (mut found, mut next) = (Vec::new(), first as usize);
    loop {
        found.push((points[next], normals[next]));
        for (away, v) in away.iter_mut().zip(&inside) {
            *away = away.min((points[*v] - points[next]).norm());
        }
        let farthest = away.iter().zip(&inside).max_by(|a, b| a.0.total_cmp(b.0));
        match farthest {
            Some((away, v)) if found.len() < PLACES && *away > 5.0 => next = *v,
            _ => return found,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_spot_has_a_letter_that_points_into_it_from_wherever_it_is_seen() {
        let points: Vec<_> = (0..81 * 41).map(|i| Point3::new((i % 81) as f32, (i / 81) as f32, 0.0)).collect();
        let triangles = (0..80 * 40)
            .flat_map(|i| {
                let a = i / 80 * 81 + i % 80;
                [[a, a + 1, a + 82], [a, a + 82, a + 81]]
            })
            .collect();
        let (large, small) = (Point3::new(20.0, 22.0, 0.0), Point3::new(62.0, 18.0, 0.0));
        let of = |middle: Point3<f32>, radius_mm: f32, p: &Point3<f32>| radius_mm - (p - middle).norm();
        let depths: Vec<f32> = points.iter().map(|p| of(large, 15.0, p).max(of(small, 7.0, p))).collect();
        let skin = Surface::new(mesh::Mesh::new(points, triangles));
        let found = spots(&skin, &depths, &Job::silent());
        assert_eq!(found.len(), 2);
        for (spot, (middle, radius_mm)) in found.iter().zip([(large, 15.0), (small, 7.0)]) {
            assert_eq!(spot[0].0, middle, "the biggest spot first, and its deepest place");
            assert!(spot.len() <= PLACES);
            assert!(spot.iter().all(|(p, _)| (p - middle).norm() <= 0.6 * radius_mm), "inside");
        }
        assert!(spots(&skin, &vec![-1.0; depths.len()], &Job::silent()).is_empty(), "nothing is marked");
    }
}
