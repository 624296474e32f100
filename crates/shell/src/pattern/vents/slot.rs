//! Long slots along the limb, in staggered rows.

use mesh::{Cancelled, SpatialHash};

use super::bays::best_lattices;
use super::{Vent, VentContext};
use crate::pattern::packing::{Lattice, Site};
use crate::pattern::tangent_frame::TangentFrame;
use crate::pattern::voronoi::{HOLLOW_LIMIT, LOOK_MM, outline_has_room};
use crate::{Shape, ShellError};

/// Length of a slot in widths.
const LENGTH: f32 = 3.0;

/// A slot may be shortened to this share of its length to fit between the rim, ribs and fittings.
const LEAST_LENGTH_SHARE: f32 = 0.75;

/// A slot may be narrowed to this share of its width where the skin is too curved for even rows.
const LEAST_WIDTH_SHARE: f32 = 0.88;

/// A slot with the skin points of the ends of its middle line.
struct Slot {
    site: Site,
    half_mm: f32,
    radius: f32,
    ends: [TangentFrame; 2],
    /// How much narrower it gets at the outer face.
    spread: f32,
}

pub fn lay_out(context: &VentContext<'_>) -> Result<Vec<Vent>, ShellError> {
    let (size, ligament) = (context.vents.size_mm, context.vents.ligament_mm);
    let (across, along) = (size + ligament, LENGTH * size + ligament);
    // Stretched across the slots, the staggered rows are a lattice of equal triangles.
    let stretch = [0.75_f32.sqrt() * along / across, 1.0];
    let lattice = Lattice { pitch_mm: along, stretch, row: [0.0, 1.0], give: 0.0 };
    best_lattices(context, lattice, &[[0.0, 1.0]], |sites| slots(context, sites))
}

fn slots(context: &VentContext<'_>, sites: &[Site]) -> Result<Vec<Vent>, Cancelled> {
    let radius = 0.5 * context.vents.size_mm;
    let full = LENGTH * radius - radius;
    let least = LEAST_LENGTH_SHARE * LENGTH * radius - radius;
    let reach = 2.0 * (full + radius) + context.vents.ligament_mm;
    let mut near = SpatialHash::new(reach);
    let mut taken: Vec<Slot> = Vec::new();
    for site in sites {
        context.job.check()?;
        let others = near.within(&site.frame.point(), reach);
        let shorter = (0..=4).map(|k| (full + (least - full) * k as f32 / 4.0, radius));
        let narrower = (1..=3).map(|k| (full, radius * (1.0 - (1.0 - LEAST_WIDTH_SHARE) * k as f32 / 3.0)));
        let fitting = shorter.chain(narrower).find_map(|(half_mm, radius)| {
            let slot = slot_at(context, site, half_mm, radius)?;
            others.iter().all(|n| clear(context, &slot, &taken[*n])).then_some(slot)
        });
        if let Some(slot) = fitting {
            near.add(site.frame.point());
            taken.push(slot);
        }
    }
    let vent = |slot: Slot| {
        let to = slot.site.tangent_way([0.0, slot.half_mm]);
        Vent { frame: slot.site.frame, shape: Shape::Slot { from: [-to[0], -to[1]], to, radius: slot.radius } }
    };
    Ok(taken.into_iter().map(vent).collect())
}

/// The slot of this half length at a site, where it has room.
fn slot_at(context: &VentContext<'_>, site: &Site, half_mm: f32, radius: f32) -> Option<Slot> {
    let [from, to] = [-half_mm, half_mm].map(|half| site.tangent_way([0.0, half]));
    let outline = Shape::Slot { from, to, radius }.outline(LOOK_MM);
    if !outline_has_room(context.skin, site, &outline, &context.room) {
        return None;
    }
    let end = |half: f32| site.frame.exp_map(context.skin, site.tangent_way([0.0, half]));
    let side = |half: f32| site.frame.exp_map(context.skin, site.tangent_way([half, 0.0]));
    let ends = [end(half_mm)?, end(-half_mm)?];
    let across = side(radius)?.offset_stretch(&side(-radius)?, context.lift_mm);
    let spread = across.min(ends[0].offset_stretch(&ends[1], context.lift_mm)).min(1.0);
    (spread >= HOLLOW_LIMIT).then_some(Slot { site: *site, half_mm, radius, ends, spread })
}

/// Whether there is enough wall between two slots.
fn clear(context: &VentContext<'_>, slot: &Slot, other: &Slot) -> bool {
    let frame = &slot.site.frame;
    if frame.normal.dot(&other.site.frame.normal) <= 0.0 {
        return true;
    }
    let own = [1.0, -1.0].map(|side| slot.site.tangent_way([0.0, slot.half_mm * side]));
    let [a, b] = other.ends.map(|end| frame.log_map(&end));
    let gap = between_segments(own, [a, b]) - slot.radius - other.radius;
    let spread = frame.offset_stretch(&other.site.frame, context.lift_mm).min(slot.spread).min(other.spread);
    gap > 10.0 * context.vents.ligament_mm
        || (spread >= HOLLOW_LIMIT && gap >= context.vents.ligament_mm / spread - 0.02)
}

/// Distance between two segments of the plane.
fn between_segments(a: [[f32; 2]; 2], b: [[f32; 2]; 2]) -> f32 {
    let cross = |o: [f32; 2], p: [f32; 2], q: [f32; 2]| (p[0] - o[0]) * (q[1] - o[1]) - (p[1] - o[1]) * (q[0] - o[0]);
    let apart = |s: [[f32; 2]; 2], t: [[f32; 2]; 2]| cross(s[0], s[1], t[0]) * cross(s[0], s[1], t[1]) > 0.0;
    if !apart(a, b) && !apart(b, a) && cross(a[0], a[1], b[0]).abs() > 1e-6 {
        return 0.0;
    }
    let to = |p: [f32; 2], s: [[f32; 2]; 2]| Shape::Slot { from: s[0], to: s[1], radius: 0.0 }.signed_distance(p);
    to(a[0], b).min(to(a[1], b)).min(to(b[0], a)).min(to(b[1], a))
}

#[cfg(test)]
mod tests {
    use super::between_segments;
    use approx::assert_relative_eq;

    #[test]
    fn segments_side_by_side_end_to_end_and_crossing() {
        let s = |a, b| [a, b];
        assert_relative_eq!(between_segments(s([0., 0.], [0., 9.]), s([4., 5.], [4., 14.])), 4.0);
        assert_relative_eq!(between_segments(s([0., 0.], [0., 9.]), s([3., 13.], [3., 20.])), 5.0);
        assert_relative_eq!(between_segments(s([-1., -1.], [1., 1.]), s([-1., 1.], [1., -1.])), 0.0);
    }
}
