//! The curvature of the skin under a fitting, and what it does to sizes in the wall.
//!
//! Shapes have their size in the wall, which lies d = gap to gap + thickness off the skin. Where the limb bulges with
//! radius R less of the skin is taken, by 1 + d/R (parallel surfaces); in a hollow more, by 1 − d/R, and there must be
//! room for it.

use mesh::{Hit, Surface};
use zone::{Bump, Zone};

use crate::{Chart, Design};

/// How far the outer face stands off the skin at most near `hit`, mm.
pub(in crate::fitting) fn outer_face_mm(skin: &Surface, zone: &Zone, design: &Design, hit: &Hit) -> f32 {
    let bumps = |bumps: &[Bump]| {
        bumps
            .iter()
            .filter(|b| b.region.distance_mm.len() == skin.mesh().points.len())
            .filter(|b| skin.interpolate(&b.region.distance_mm, hit) > -b.fades_over_mm())
            .map(|b| b.height_mm.max(0.0))
            .sum::<f32>()
    };
    let edge = skin.interpolate(&zone.covered.distance_mm, hit);
    let flare = design.rim.flare_at(edge);
    design.gap_mm + design.thickness_mm + flare + bumps(&zone.reliefs) + bumps(&zone.reinforcements)
}

/// Curvature of the skin along u and along v, 1/mm, positive where it bulges, over a box of these half sides.
///
/// Measured as the turn of the normal from one side of the box to the other, on three lines each, and over at least 8
/// mm, so that noise has little effect.
pub(in crate::fitting) fn curvature(skin: &Surface, chart: &Chart, half: [f32; 2]) -> [f32; 2] {
    let half = half.map(|h| h.max(4.0).min(chart.radius_mm * 0.6));
    [0, 1].map(|axis| {
        let across = 0.5 * half[1 - axis];
        let lines = [-across, 0.0, across].into_iter().filter_map(|aside| {
            let at = |way: f32| {
                let mut uv = [aside; 2];
                uv[axis] = way;
                chart.skin_point(skin, uv)
            };
            let (a, b) = (at(-half[axis])?, at(half[axis])?);
            let chord = b.point - a.point;
            let turned = skin.normal_at(&b) - skin.normal_at(&a);
            Some(turned.dot(&chord) / chord.norm_squared().max(1e-6))
        });
        let (sum, count) = lines.fold((0.0, 0.0), |(sum, count), k| (sum + k, count + 1.0));
        if count > 0.0 { sum / count } else { 0.0 }
    })
}

/// What a size has to be multiplied by on the skin to keep it at least nominal in the wall; `None` where the hollow is
/// so narrow that the wall closes up.
pub(in crate::fitting) fn hollow_scale(curvature: [f32; 2], outer_mm: f32) -> Option<[f32; 2]> {
    let left = curvature.map(|k| 1.0 + k.min(0.0) * outer_mm);
    left.iter().all(|l| *l > 0.4).then(|| left.map(|l| 1.0 / l))
}
