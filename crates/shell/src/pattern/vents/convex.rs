//! Convex cells at the places of a lattice, each kept clear of the others.

use mesh::{Cancelled, SpatialHash};

use super::{Vent, VentContext};
use crate::Shape;
use crate::pattern::Site;
use crate::pattern::voronoi::{HOLLOW_LIMIT, LOOK_MM, outline_has_room, shape};

/// A cell may shrink to this share of its size where the skin is too curved for an even lattice.
const LEAST_SCALE: f32 = 0.85;
/// A wall may be thinner than set by this much: the error of arcs, mm.
const UNSURE_MM: f32 = 0.02;

/// A cell before it is known how big it can be.
#[derive(Debug, Clone)]
pub struct Cell {
    /// Its middle.
    pub site: Site,
    /// Its corners in the lattice's own axes, counter-clockwise, before they are rounded.
    pub corners: Vec<[f32; 2]>,
}

/// A cell that is placed.
struct Taken {
    site: Site,
    /// Its corners in the tangent plane of its site.
    corners: Vec<[f32; 2]>,
    scale: f32,
    /// How much narrower it gets at the outer face, where it does most.
    spread: f32,
}

/// The vents of the cells that have room, their corners rounded by `round`, each as big as its neighbours allow.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn convex(context: &VentContext<'_>, cells: &[Cell], round: f32) -> Result<Vec<Vent>, Cancelled> {
    let ligament = context.vents.ligament_mm;
    let reach = cells.iter().flat_map(|c| &c.corners).map(|p| p[0].hypot(p[1]) + round).fold(0.0, f32::max);
    let near_mm = 2.0 * reach + 1.5 * ligament;
    let mut near = SpatialHash::new(near_mm);
    let mut taken: Vec<Taken> = Vec::new();
    for Cell { site, corners } in cells {
        context.job.check()?;
        let corners: Vec<[f32; 2]> = corners.iter().map(|p| site.tangent_way(*p)).collect();
        let outline = shape(corners.clone(), round).outline(LOOK_MM);
        if !outline_has_room(context.skin, site, &outline, &context.room) {
            continue;
        }
        let Some(spread) = spread(context, site) else { continue };
        let own = Taken { site: *site, corners, scale: 1.0, spread };
        let shares: Option<Vec<(usize, f32)>> = near
            .within(&site.frame.point(), near_mm)
            .into_iter()
            .filter(|n| taken[*n].site.frame.normal.dot(&site.frame.normal) > 0.0)
            .map(|n| {
                let between = context.lift.stretch(context.skin, &site.frame, &taken[n].site.frame).min(1.0);
                let spread = between.min(own.spread).min(taken[n].spread);
                let lack = ligament / spread.max(HOLLOW_LIMIT) - gap_mm(context, &own, &taken[n], round);
                let scale = 1.0 - (lack - UNSURE_MM).max(0.0) / context.vents.size_mm;
                (spread >= HOLLOW_LIMIT && scale >= LEAST_SCALE).then_some((n, scale))
            })
            .collect();
        let Some(shares) = shares else { continue };
        let mut own = own;
        for (n, scale) in shares {
            taken[n].scale = taken[n].scale.min(scale);
            own.scale = own.scale.min(scale);
        }
        near.add(site.frame.point());
        taken.push(own);
    }
    let vent = |cell: Taken| {
        let corners = cell.corners.iter().map(|p| p.map(|x| x * cell.scale)).collect();
        Vent { frame: cell.site.frame, shape: Shape::RoundedPolygon { corners, round: round * cell.scale } }
    };
    Ok(taken.into_iter().map(vent).collect())
}

/// How much narrower a cell gets at the outer face, along the axis of the lattice where it does most; at most 1.
fn spread(context: &VentContext<'_>, site: &Site) -> Option<f32> {
    let half = 0.5 * context.vents.size_mm;
    let at = |way: [f32; 2]| site.frame.exp_map(context.skin, site.tangent_way(way));
    let across = context.lift.stretch(context.skin, &at([-half, 0.0])?, &at([half, 0.0])?);
    let up = context.lift.stretch(context.skin, &at([0.0, -half])?, &at([0.0, half])?);
    Some(across.min(up).min(1.0))
}

/// Wall between two cells of full size in the middle of the wall, mm.
fn gap_mm(context: &VentContext<'_>, a: &Taken, b: &Taken, round: f32) -> f32 {
    let (here, there) = (&a.site.frame, &b.site.frame);
    let off = context.lift.way(context.skin, here, there);
    let moved: Vec<[f32; 2]> = b
        .corners
        .iter()
        .map(|p| here.transport_from(there, &there.vector(*p)))
        .map(|p| [off[0] + p[0], off[1] + p[1]])
        .collect();
    // Of two convex polygons that do not meet, a corner of one is nearest to the other.
    let [one, other] = [&a.corners, &moved].map(|corners| shape(corners.clone(), 0.0));
    let to_one = moved.iter().map(|p| one.signed_distance(*p)).fold(f32::INFINITY, f32::min);
    let to_other = a.corners.iter().map(|p| other.signed_distance(*p)).fold(f32::INFINITY, f32::min);
    to_one.min(to_other) - 2.0 * round
}

/// A regular or other convex polygon moved inwards on all sides, so that rounding its corners gives its size back.
/// `inradius` is how far its sides are from the origin.
pub fn inset(corners: &[[f32; 2]], inradius: f32, round: f32) -> Vec<[f32; 2]> {
    let share = 1.0 - round / inradius;
    corners.iter().map(|p| p.map(|x| x * share)).collect()
}
