//! Round holes in hexagonal packing.

use mesh::{Cancelled, SpatialHash};

use super::bays::best_lattices;
use super::{Vent, VentContext};
use crate::pattern::packing::{Lattice, Site};
use crate::pattern::voronoi::{HOLLOW_LIMIT, LOOK_MM, outline_has_room};
use crate::{Shape, ShellError};

/// A hole may shrink to this share of its size where the skin is too curved for an even lattice.
const LEAST_SIZE_SHARE: f32 = 0.9;

pub fn lay_out(context: &VentContext<'_>) -> Result<Vec<Vent>, ShellError> {
    let pitch_mm = context.vents.size_mm + context.vents.ligament_mm;
    let give = (1.0 - LEAST_SIZE_SHARE) * context.vents.size_mm / pitch_mm;
    let lattice = Lattice { pitch_mm, stretch: [1.0, 1.0], row: [1.0, 0.0], give };
    best_lattices(context, lattice, &[[1.0, 0.0], [0.0, 1.0]], |sites| holes(context, sites, pitch_mm))
}

/// A hole at each site that has room for one, as big as its neighbours allow.
fn holes(context: &VentContext<'_>, sites: &[Site], pitch_mm: f32) -> Result<Vec<Vent>, Cancelled> {
    let full = 0.5 * context.vents.size_mm;
    let rim = Shape::Circle { centre: [0.0; 2], radius: full }.outline(LOOK_MM);
    let roomy = sites.iter().filter(|s| outline_has_room(context.skin, s, &rim, &context.room));
    let mut near = SpatialHash::new(pitch_mm * 1.5);
    let mut taken: Vec<(Site, f32)> = Vec::new();
    for site in roomy {
        context.job.check()?;
        // What each of the two may have of the distance between them, less the wall.
        let shares: Option<Vec<(usize, f32)>> = near
            .within(&site.frame.point(), 1.5 * pitch_mm)
            .into_iter()
            .filter(|n| taken[*n].0.frame.normal.dot(&site.frame.normal) > 0.0)
            .map(|n| {
                let other = &taken[n].0.frame;
                let way = site.frame.log_map(other);
                let spread = site.frame.offset_stretch(other, context.lift_mm).min(1.0);
                let share = 0.5 * (way[0].hypot(way[1]) - context.vents.ligament_mm / spread.max(HOLLOW_LIMIT));
                (spread >= HOLLOW_LIMIT && share >= LEAST_SIZE_SHARE * full).then_some((n, share))
            })
            .collect();
        let Some(shares) = shares else { continue };
        let mut own = full;
        for (n, share) in shares {
            taken[n].1 = taken[n].1.min(share);
            own = own.min(share);
        }
        near.add(site.frame.point());
        taken.push((*site, own));
    }
    let hole =
        |(site, radius): (Site, f32)| Vent { frame: site.frame, shape: Shape::Circle { centre: [0.0, 0.0], radius } };
    Ok(taken.into_iter().map(hole).collect())
}
