//! Letters beside the regions on the limb, as in the panel, so that a colour is never the only sign.

use bevy_egui::egui::{Align2, FontId, Pos2, Stroke, Ui, Vec2};
use mesh::Surface;
use nalgebra::{Point3, Vector3};
use session::marking;

use super::Sight;
use super::label;
use crate::look;
use crate::mark::{Aim, kind_name};
use crate::panel::Desk;

/// Places of a region that a letter may point at.
const PLACES: usize = 8;
/// From the place to its letter, in the window.
const ASIDE: Vec2 = Vec2::new(34.0, -30.0);
/// Half the size of a letter's field.
const HALF: f32 = 12.0;

/// Where the letters point, found once for what is marked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Letters {
    sketch: u64,
    places: Vec<Vec<(Point3<f32>, Vector3<f32>)>>,
}

/// Draws a letter beside every region that is in sight.
pub(super) fn show(ui: &Ui, sight: &Sight, desk: &mut Desk<'_>) {
    let derived = desk.bench.session.derived();
    let (Some(limb), Some(sketch), Some(design)) =
        (derived.limb.value(), derived.sketch.value(), desk.bench.session.design())
    else {
        return;
    };
    let letters = &mut desk.view.marking.letters;
    if letters.sketch != derived.sketch.serial() {
        letters.sketch = derived.sketch.serial();
        letters.places = sketch.regions_mm.iter().map(|depths| places(&limb.skin, depths)).collect();
    }
    let colours = look::palette(ui.ctx());
    let mut taken: Vec<Pos2> = Vec::new();
    for (number, (region, places)) in design.zone.regions.iter().zip(&letters.places).enumerate() {
        let seen = places.iter().find(|(p, n)| sight.faces(p, n) && !sight.hidden(&limb.skin, p));
        let Some(foot) = seen.and_then(|(p, _)| sight.see(p)).filter(|p| sight.field.contains(*p)) else { continue };
        let mut at = foot + ASIDE;
        while taken.iter().any(|other| (other.y - at.y).abs() < 2.4 * HALF && (other.x - at.x).abs() < 130.0) {
            at.y -= 2.4 * HALF;
        }
        taken.push(at);
        let ink = if desk.view.marking.aim == Aim::Region(number) { colours.accent } else { colours.ink };
        ui.painter().line_segment([foot, at], Stroke::new(3.5, colours.raised));
        ui.painter().line_segment([foot, at], Stroke::new(1.5, ink));
        ui.painter().circle(foot, 3.5, ink, Stroke::new(1.5, colours.raised));
        label(ui, at + Vec2::new(HALF + 12.0, 9.0), kind_name(region.kind));
        ui.painter().circle(at, HALF, colours.raised, Stroke::new(1.8, ink));
        let letter = marking::letter(number);
        let size = if letter.len() > 1 { 12.0 } else { 15.0 };
        ui.painter().text(at, Align2::CENTER_CENTER, letter, FontId::proportional(size), ink);
    }
}

/// Places of a region all round the limb: its deepest first, then each time the one farthest from those before it.
fn places(skin: &Surface, depths_mm: &[f32]) -> Vec<(Point3<f32>, Vector3<f32>)> {
    let (points, normals) = (&skin.mesh().points, skin.vertex_normals());
    let deepest = depths_mm.iter().copied().fold(0.0, f32::max);
    // Well inside, so that the foot of the letter's line lies on the colour.
    let inside: Vec<usize> = (0..points.len().min(depths_mm.len())).filter(|v| depths_mm[*v] > 0.4 * deepest).collect();
    let Some(first) = inside.iter().copied().max_by(|a, b| depths_mm[*a].total_cmp(&depths_mm[*b])) else {
        return Vec::new();
    };
    let mut away: Vec<f32> = vec![f32::INFINITY; inside.len()];
    let (mut found, mut next) = (Vec::new(), first);
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
    fn a_letter_points_into_the_region_from_wherever_it_is_seen() {
        let points: Vec<_> = (0..41 * 41).map(|i| Point3::new((i % 41) as f32, (i / 41) as f32, 0.0)).collect();
        let triangles = (0..40 * 40)
            .flat_map(|i| {
                let a = i / 40 * 41 + i % 40;
                [[a, a + 1, a + 42], [a, a + 42, a + 41]]
            })
            .collect();
        let depths: Vec<f32> = points.iter().map(|p| 15.0 - (p - Point3::new(20.0, 22.0, 0.0)).norm()).collect();
        let skin = Surface::new(mesh::Mesh::new(points, triangles));
        let found = places(&skin, &depths);
        assert_eq!(found[0].0, Point3::new(20.0, 22.0, 0.0), "the deepest comes first");
        assert_eq!(found.len(), PLACES);
        for (p, _) in &found {
            assert!((p - Point3::new(20.0, 22.0, 0.0)).norm() < 9.0, "inside");
        }
        assert!(places(&skin, &vec![-1.0; depths.len()]).is_empty(), "nothing is marked");
    }
}
