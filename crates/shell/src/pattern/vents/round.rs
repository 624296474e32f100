//! Round holes in hexagonal packing.

use mesh::{Cancelled, SpatialHash};

use super::bays::lay_bays;
use super::raster::Raster;
use super::tidy::tidy;
use super::weave::{Weave, most_places};
use super::{Vent, VentContext};
use crate::pattern::Site;
use crate::pattern::voronoi::{HOLLOW_LIMIT, LOOK_MM, outline_has_room};
use crate::{Shape, ShellError};

/// A hole may shrink to this share of its size where the skin is too curved for an even lattice.
const LEAST_SIZE_SHARE: f32 = 0.9;

pub fn lay_out(context: &VentContext<'_>) -> Result<Vec<Vent>, ShellError> {
    let raster = Raster::new(context)?;
    // Where lengths are shorter on the skin than on the board, holes may shrink a little; elsewhere the wall gets wider.
    let give = f64::from(
        (1.0 - LEAST_SIZE_SHARE) * context.vents.size_mm / (context.vents.size_mm + context.vents.ligament_mm),
    );
    let slack = (context.board.slack() - 0.5 * give).max(0.0);
    let pitch = f64::from(context.vents.size_mm + context.vents.ligament_mm) * (1.0 + slack);
    let laid =
        most_places(context, &raster, &[Weave::rows(pitch), Weave::columns(pitch)], 0.5 * context.vents.size_mm)?;
    let Some(weave) = laid.first().map(|l| l.weave) else { return Ok(Vec::new()) };
    let bays: Vec<(u32, Vec<Site>)> = laid.iter().map(|l| (l.bay, l.sites(&context.board, &raster))).collect();
    let vents = lay_bays(context, &bays, |sites| holes(context, sites, pitch as f32))?;
    Ok(tidy(context, vents, pitch, |a, b| weave.steps_between(a, b))?)
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
                let spread = context.lift.stretch(context.skin, &site.frame, other).min(1.0);
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
