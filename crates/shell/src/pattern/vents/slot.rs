//! Long slots along the limb, in staggered columns that begin and end with the room there is.

use mesh::{Cancelled, SpatialHash};
use nalgebra::Point2;

use super::bays::lay_bays;
use super::raster::Raster;
use super::round::{Beside, even};
use super::tidy::tidy;
use super::weave::{Laid, Weave, choose};
use super::{Vent, VentContext};
use crate::pattern::voronoi::{HOLLOW_LIMIT, LOOK_MM, outline_has_room};
use crate::pattern::{Site, TangentFrame};
use crate::{Shape, ShellError};

/// Length of a slot in widths.
const LENGTH: f32 = 3.0;

/// A slot shorter than this, in widths, is left out, or joined to the next one of its column.
const LEAST_LENGTH: f32 = 1.6;

/// Slots joined are at most this long, in widths.
const MOST_LENGTH: f32 = 4.6;

/// A slot may be shortened to this share of its length where the skin is too curved for even columns.
const LEAST_LENGTH_SHARE: f32 = 0.75;

/// A slot may be narrowed to this share of its width where the skin is too curved for even columns.
const LEAST_WIDTH_SHARE: f32 = 0.92;

/// A slot grows at most to this share of its width to keep the walls round it even.
const MOST_WIDTH_SHARE: f32 = 1.06;

/// Distance between the places of a column where its room is looked up, mm.
const COLUMN_STEP_MM: f64 = 0.5;

/// A slot on the board: the middle of its middle line and half the length of that, mm on the skin.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    site: Site,
    half_mm: f32,
}

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
    let across = f64::from(size + ligament);
    let weave = Weave { columns: true, step: [across, f64::from(LENGTH * size + ligament)] };
    let raster = Raster::new(context)?;
    let laid = choose(context, &raster, &[weave], |laid| {
        pieces(context, &raster, laid).iter().map(|[from, to]| to.y - from.y + f64::from(size)).sum()
    })?;
    let stretch = |[from, to]: [Point2<f64>; 2]| -> Option<Stretch> {
        let middle = nalgebra::center(&from, &to);
        let half_mm = 0.5 * (to - from).norm() as f32 * context.board.up_scale(middle);
        Some(Stretch { site: context.board.site(middle)?, half_mm })
    };
    let bays: Vec<(u32, Vec<Stretch>)> = laid
        .iter()
        .map(|laid| (laid.bay, pieces(context, &raster, laid).into_iter().filter_map(stretch).collect()))
        .collect();
    let vents = lay_bays(context, &bays, |stretches| slots(context, stretches))?;
    Ok(tidy(context, vents, weave.step[1], |a, b| weave.steps_between(a, b))?)
}

/// The middle lines of the slots of a weave, on the board: each column, as far as it has room, cut where the weave says.
fn pieces(context: &VentContext<'_>, raster: &Raster, laid: &Laid) -> Vec<[Point2<f64>; 2]> {
    let (size, ligament) = (f64::from(context.vents.size_mm), f64::from(context.vents.ligament_mm));
    let [least, most] = [LEAST_LENGTH, MOST_LENGTH].map(|widths| f64::from(widths - 1.0) * size);
    let mut all = Vec::new();
    for (i, cuts) in laid.columns(&context.board, raster) {
        let at = |y: f64| laid.bent(&context.board, i, y);
        let roomy = |y: f64| raster.room(at(y)) >= 0.5 * size as f32 && raster.bay(at(y)) == laid.bay;
        for pair in cuts.windows(2) {
            let (low, high) = (pair[0] + 0.5 * (size + ligament), pair[1] - 0.5 * (size + ligament));
            let steps = ((high - low) / COLUMN_STEP_MM).ceil().max(1.0);
            let ys = (0..=steps as usize).map(|k| low + (high - low) * k as f64 / steps);
            let free: Vec<f64> = ys.filter(|y| roomy(*y)).collect();
            // The longest run of places with room.
            let run = free.chunk_by(|a, b| b - a < 1.5 * COLUMN_STEP_MM).max_by(|a, b| a.len().cmp(&b.len()));
            let Some([from, .., to]) = run else { continue };
            let begins = all.last().is_some_and(|(column, _, end): &(i32, f64, f64)| {
                *column == i && from - end < size + ligament + COLUMN_STEP_MM
            });
            let before = all.last().copied();
            match before {
                // Too short to stand alone, here or before: one slot over the cut.
                Some((_, start, end)) if begins && (to - from < least || end - start < least) && to - start <= most => {
                    if let Some(last) = all.last_mut() {
                        last.2 = *to;
                    }
                }
                _ => all.push((i, *from, *to)),
            }
        }
    }
    let long = all.into_iter().filter(|(_, from, to)| to - from >= least);
    long.map(|(i, from, to)| [laid.bent(&context.board, i, from), laid.bent(&context.board, i, to)]).collect()
}

fn slots(context: &VentContext<'_>, stretches: &[Stretch]) -> Result<Vec<Vent>, Cancelled> {
    let radius = 0.5 * context.vents.size_mm;
    let longest = stretches.iter().map(|s| s.half_mm).fold(0.0, f32::max);
    let reach = 2.0 * (longest + MOST_WIDTH_SHARE * radius) + 1.5 * context.vents.ligament_mm;
    let mut near = SpatialHash::new(reach);
    let mut taken: Vec<Slot> = Vec::new();
    for Stretch { site, half_mm: full } in stretches {
        context.job.check()?;
        let others = near.within(&site.frame.point(), reach);
        let least = LEAST_LENGTH_SHARE * (full + radius) - radius;
        // As narrow as can be; they share out afterwards what is left.
        let narrow = LEAST_WIDTH_SHARE * radius;
        let fitting = (0..=4).map(|k| full + (least - full) * k as f32 / 4.0).find_map(|half_mm| {
            slot_at(context, site, half_mm, radius)?;
            let slot = slot_at(context, site, half_mm, narrow)?;
            others.iter().all(|n| clear(context, &slot, &taken[*n])).then_some(slot)
        });
        if let Some(slot) = fitting {
            near.add(site.frame.point());
            taken.push(slot);
        }
    }
    let beside: Vec<Vec<Beside>> = (0..taken.len())
        .map(|n| {
            let others = near.within(&taken[n].site.frame.point(), reach).into_iter().filter(|other| *other != n);
            others
                .filter_map(|other| Some(Beside { other, both: between(context, &taken[n], &taken[other])? }))
                .collect()
        })
        .collect();
    let beside: Vec<&[Beside]> = beside.iter().map(|b| &b[..]).collect();
    let radii = even(&beside, radius, MOST_WIDTH_SHARE * radius, |n, wide| {
        slot_at(context, &taken[n].site, taken[n].half_mm, wide).is_some()
    });
    let vent = |(slot, even): (Slot, f32)| {
        let to = slot.site.tangent_way([0.0, slot.half_mm]);
        Vent {
            frame: slot.site.frame,
            shape: Shape::Slot { from: [-to[0], -to[1]], to, radius: slot.radius.max(even) },
        }
    };
    Ok(taken.into_iter().zip(radii).map(vent).collect())
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
    let across = context.lift.stretch(context.skin, &side(radius)?, &side(-radius)?);
    let spread = across.min(context.lift.stretch(context.skin, &ends[0], &ends[1])).min(1.0);
    (spread >= HOLLOW_LIMIT).then_some(Slot { site: *site, half_mm, radius, ends, spread })
}

/// Whether there is enough wall between two slots.
fn clear(context: &VentContext<'_>, slot: &Slot, other: &Slot) -> bool {
    between(context, slot, other).is_none_or(|both| both - slot.radius - other.radius >= -0.02)
}

/// What the half widths of two slots may add up to, mm: the distance between their middle lines less the wall. `None`
/// where they are far apart, or on two sides of the limb; less than nothing in a sharp hollow.
fn between(context: &VentContext<'_>, slot: &Slot, other: &Slot) -> Option<f32> {
    let frame = &slot.site.frame;
    if frame.normal.dot(&other.site.frame.normal) <= 0.0 {
        return None;
    }
    let ligament = context.vents.ligament_mm;
    let own = [1.0, -1.0].map(|side| slot.site.tangent_way([0.0, slot.half_mm * side]));
    let [a, b] = other.ends.map(|end| frame.log_map(&end));
    // Both ends are moved as the middle is.
    let (flat, wide) = (frame.log_map(&other.site.frame), context.lift.way(context.skin, frame, &other.site.frame));
    let moved = |p: [f32; 2]| [p[0] + wide[0] - flat[0], p[1] + wide[1] - flat[1]];
    let apart = between_segments(own, [moved(a), moved(b)]);
    let spread = context.lift.stretch(context.skin, frame, &other.site.frame).min(slot.spread).min(other.spread);
    if apart > slot.radius + other.radius + 10.0 * ligament {
        None
    } else if spread < HOLLOW_LIMIT {
        Some(f32::NEG_INFINITY)
    } else {
        Some(apart - ligament / spread)
    }
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
