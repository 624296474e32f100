//! Round holes, packed like balls in a tray.

use super::bays::best_lattices;
use super::{Ground, Vent};
use crate::pattern::cell::{HOLLOW_LIMIT, LOOK_MM, outline, outline_has_room};
use crate::pattern::near::Near;
use crate::pattern::packing::{Lattice, Site};
use crate::{Shape, ShellError};

/// A hole may be this share of its size where the skin is too curved for an even lattice.
const LEAST_SIZE_SHARE: f32 = 0.9;

pub fn lay_out(ground: &Ground<'_>) -> Result<Vec<Vent>, ShellError> {
    let pitch_mm = ground.vents.size_mm + ground.vents.ligament_mm;
    let give = (1.0 - LEAST_SIZE_SHARE) * ground.vents.size_mm / pitch_mm;
    let lattice = Lattice { pitch_mm, stretch: [1.0, 1.0], row: [1.0, 0.0], give };
    best_lattices(ground, lattice, &[[1.0, 0.0], [0.0, 1.0]], |sites| holes(ground, sites, pitch_mm))
}

/// A hole at each site that has room for one, as big as its neighbours allow.
fn holes(ground: &Ground<'_>, sites: &[Site], pitch_mm: f32) -> Vec<Vent> {
    let full = 0.5 * ground.vents.size_mm;
    let rim = outline(&[[0.0, 0.0]], full, LOOK_MM);
    let roomy = sites.iter().filter(|s| outline_has_room(ground.skin, s, &rim, &ground.room));
    let mut near = Near::new(pitch_mm * 1.5);
    let mut taken: Vec<(Site, f32)> = Vec::new();
    for site in roomy {
        // What each of the two may have of the way between them, once the wall is taken off.
        let shares: Option<Vec<(usize, f32)>> = near
            .within(&site.spot.point(), 1.5 * pitch_mm)
            .into_iter()
            .filter(|n| taken[*n].0.spot.normal.dot(&site.spot.normal) > 0.0)
            .map(|n| {
                let other = &taken[n].0.spot;
                let way = site.spot.way_to(other);
                let spread = site.spot.spread_to(other, ground.lift_mm).min(1.0);
                let share = 0.5 * (way[0].hypot(way[1]) - ground.vents.ligament_mm / spread.max(HOLLOW_LIMIT));
                (spread >= HOLLOW_LIMIT && share >= LEAST_SIZE_SHARE * full).then_some((n, share))
            })
            .collect();
        let Some(shares) = shares else { continue };
        let mut own = full;
        for (n, share) in shares {
            taken[n].1 = taken[n].1.min(share);
            own = own.min(share);
        }
        near.add(site.spot.point());
        taken.push((*site, own));
    }
    taken
        .into_iter()
        .map(|(site, radius)| Vent { spot: site.spot, shape: Shape::Circle { centre: [0.0, 0.0], radius } })
        .collect()
}
