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
/// A hole grows at most to this share of its size to keep the walls round it even.
const MOST_SIZE_SHARE: f32 = 1.06;

pub fn lay_out(context: &VentContext<'_>) -> Result<Vec<Vent>, ShellError> {
    let raster = Raster::new(context)?;
    let pitch = f64::from(context.vents.size_mm + context.vents.ligament_mm);
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
    let has_room = |site: &Site, radius: f32| {
        let rim = Shape::Circle { centre: [0.0; 2], radius }.outline(LOOK_MM);
        outline_has_room(context.skin, site, &rim, &context.room)
    };
    let roomy = sites.iter().filter(|s| has_room(s, full));
    let mut near = SpatialHash::new(pitch_mm * 1.5);
    let mut taken: Vec<(Site, Vec<Beside>)> = Vec::new();
    for site in roomy {
        context.job.check()?;
        // What the two may have of the distance between them, less the wall.
        let shares: Option<Vec<Beside>> = near
            .within(&site.frame.point(), 1.5 * pitch_mm)
            .into_iter()
            .filter(|n| taken[*n].0.frame.normal.dot(&site.frame.normal) > 0.0)
            .map(|n| {
                let other = &taken[n].0.frame;
                let way = context.lift.way(context.skin, &site.frame, other);
                let spread = context.lift.stretch(context.skin, &site.frame, other).min(1.0);
                let both = way[0].hypot(way[1]) - context.vents.ligament_mm / spread.max(HOLLOW_LIMIT);
                (spread >= HOLLOW_LIMIT && both >= 2.0 * LEAST_SIZE_SHARE * full).then_some(Beside { other: n, both })
            })
            .collect();
        let Some(shares) = shares else { continue };
        let own = taken.len();
        for share in &shares {
            taken[share.other].1.push(Beside { other: own, both: share.both });
        }
        near.add(site.frame.point());
        taken.push((*site, shares));
    }
    let beside: Vec<&[Beside]> = taken.iter().map(|(_, beside)| &beside[..]).collect();
    let radii = even(&beside, full, MOST_SIZE_SHARE * full, |n, radius| has_room(&taken[n].0, radius));
    let hole = |((site, _), radius): (&(Site, Vec<Beside>), f32)| Vent {
        frame: site.frame,
        shape: Shape::Circle { centre: [0.0, 0.0], radius },
    };
    Ok(taken.iter().zip(radii).map(hole).collect())
}

/// A neighbour, and what the half widths of both may add up to, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Beside {
    /// Its number.
    pub(super) other: usize,
    /// The distance between the two less the wall, mm.
    pub(super) both: f32,
}

/// Half widths that leave each vent its wall, mm: first at most half of what each pair may have, then as much more as
/// is left, so that the walls are even. None is wider than `most`, nor than `full` without room for it.
pub(super) fn even(beside: &[&[Beside]], full: f32, most: f32, has_room: impl Fn(usize, f32) -> bool) -> Vec<f32> {
    let half = |shares: &&[Beside]| shares.iter().map(|b| 0.5 * b.both).fold(most, f32::min);
    let wide = |n: usize, radius: f32| if radius > full && !has_room(n, radius) { full } else { radius };
    let mut found: Vec<f32> = beside.iter().map(half).enumerate().map(|(n, radius)| wide(n, radius)).collect();
    for (n, shares) in beside.iter().enumerate() {
        let left = shares.iter().map(|b| b.both - found[b.other]).fold(most, f32::min);
        found[n] = wide(n, left.max(found[n]));
    }
    found
}
