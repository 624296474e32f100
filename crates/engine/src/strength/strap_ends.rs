//! Where the straps of a guard pull at it.

use mechanics::mid_surface::MidSurface;
use mechanics::worn::StrapEnd;
use mesh::Surface;
use shell::{Fitting, FittingKind};

/// What a strap is tightened to by hand, N: half of what the wall behind its slot is usually made for
/// ([`shell::fitting::USUAL_PULL_N`]).
const STRAP_N: f64 = 30.0;
/// Pull for which a strap of a millimetre of width gets twice as long, N: webbing of 25 mm that gives a per cent under 40 N with the
/// slack of its slots and of hook-and-loop (an estimate; no measured page was found).
const STRAP_STIFF_N_PER_MM: f64 = 160.0;
/// How much of a strap gives at each of its ends, mm: half of what is not on the guard, at a usual limb.
const STRAP_FREE_MM: f64 = 100.0;

/// Where the straps of a design pull.
pub(super) fn strap_ends(skin: &Surface, middle: &MidSurface, fittings: &[(usize, Fitting)]) -> Vec<StrapEnd> {
    let centre = super::wall::middle_of(middle);
    let ends = fittings.iter().filter_map(|(_, fitting)| {
        let FittingKind::StrapSlot { strap_mm, .. } = fitting.kind else { return None };
        let hit = shell::skin_point(skin, &fitting.at_mm)?;
        let (around, along) = shell::skin_directions(&skin.normal_at(&hit));
        let (sin, cos) = fitting.turn_deg.to_radians().sin_cos();
        // Square to its long side, away from the middle of the guard.
        let way = (along * cos - around * sin).cast::<f64>();
        let at_mm = hit.point.cast::<f64>();
        let away = if (at_mm - centre).dot(&way) < 0.0 { -way } else { way };
        let width_mm = f64::from(strap_mm);
        let newton_per_mm = STRAP_STIFF_N_PER_MM * width_mm / STRAP_FREE_MM;
        Some(StrapEnd { at_mm, way: away, width_mm, newton_per_mm, tension_n: STRAP_N })
    });
    ends.collect()
}
