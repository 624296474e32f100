//! Bays: the connected components of the free space, such as those between ribs, each with a lattice of its own.
//!
//! One lattice over the whole zone would leave odd halves beside each rib; grown from the middle of each bay, it is
//! centred there.

use mesh::{Cancelled, Job, SpatialHash, Surface};
use rayon::prelude::*;

use super::{Vent, VentContext, middle_of};
use crate::ShellError;
use crate::pattern::free_space::FreeSpace;
use crate::pattern::packing::{Lattice, Site, grow};
use crate::pattern::tangent_frame::TangentFrame;
use crate::pattern::voronoi::LOOK_MM;

/// Vertices between two checks for cancellation.
const VERTICES_A_LOOK: usize = 16_384;

/// No bay.
const NONE: u32 = u32::MAX;

/// How much wider than its pitch a lattice may be on curved skin, as shares of the pitch.
const SLACKS: [f32; 4] = [0.0, 0.02, 0.04, 0.07];

/// Lattices grow this share of their reach beyond the room, so that rows go on behind a fitting.
pub const BEYOND: f32 = 0.6;

/// The bays of a free space.
#[derive(Debug)]
pub struct Bays {
    /// Bay of each vertex.
    of_vertex: Vec<u32>,
    /// Middle of each bay, the bay with most vertices first.
    middles: Vec<TangentFrame>,
    /// Number of each bay in `of_vertex`, in the same order.
    numbers: Vec<u32>,
}

impl Bays {
    /// Finds the connected components of the skin with at least `least_mm` of room.
    ///
    /// Each vertex with at least `edge_mm` of room (below `least_mm`) goes to the bay that is fewest edges away.
    ///
    /// # Errors
    /// [`Cancelled`] on request; checked every [`VERTICES_A_LOOK`] vertices.
    pub fn find(skin: &Surface, room: &FreeSpace, least_mm: f32, edge_mm: f32, job: &Job) -> Result<Self, Cancelled> {
        let clearance = room.clearance_mm();
        let triangles = &skin.mesh().triangles;
        let mut of_vertex = vec![NONE; clearance.len()];
        let mut found: Vec<Vec<u32>> = Vec::new();
        for start in 0..clearance.len() {
            if of_vertex[start] != NONE || clearance[start] < least_mm {
                continue;
            }
            let number = found.len() as u32;
            of_vertex[start] = number;
            let mut members = vec![start as u32];
            let mut next = 0;
            while next < members.len() {
                if next % VERTICES_A_LOOK == 0 {
                    job.check()?;
                }
                for t in skin.adjacency().triangles_around(members[next]) {
                    for v in triangles[*t as usize] {
                        if of_vertex[v as usize] == NONE && clearance[v as usize] >= least_mm {
                            of_vertex[v as usize] = number;
                            members.push(v);
                        }
                    }
                }
                next += 1;
            }
            found.push(members);
        }
        let mut order: Vec<u32> = (0..found.len() as u32).collect();
        order.sort_by_key(|n| std::cmp::Reverse(found[*n as usize].len()));
        let (numbers, middles) =
            order.into_iter().filter_map(|n| Some((n, middle_of(skin, clearance, &found[n as usize])?))).unzip();
        let mut reached: Vec<u32> = found.into_iter().flatten().collect();
        let mut next = 0;
        while next < reached.len() {
            if next % VERTICES_A_LOOK == 0 {
                job.check()?;
            }
            let from = reached[next];
            for t in skin.adjacency().triangles_around(from) {
                for v in triangles[*t as usize] {
                    if of_vertex[v as usize] == NONE && clearance[v as usize] >= edge_mm {
                        of_vertex[v as usize] = of_vertex[from as usize];
                        reached.push(v);
                    }
                }
            }
            next += 1;
        }
        Ok(Self { of_vertex, middles, numbers })
    }

    /// Whether a spot lies at a bay's edge or within it.
    fn holds(&self, skin: &Surface, bay: usize, frame: &TangentFrame) -> bool {
        let corners = skin.mesh().triangles[frame.hit.triangle as usize];
        corners.iter().any(|v| self.of_vertex[*v as usize] == self.numbers[bay])
    }
}

/// Grows lattices with several slacks, in each bay from its middle, and keeps what gives most vents: the tightest on
/// skin that can be unrolled, a looser one where the skin is curved both ways. `rows` are the directions in which the
/// first row may run.
pub fn best_lattices(
    context: &VentContext<'_>,
    lattice: Lattice,
    rows: &[[f32; 2]],
    lay: impl Fn(&[Site]) -> Result<Vec<Vent>, Cancelled> + Sync,
) -> Result<Vec<Vent>, ShellError> {
    let edge = -BEYOND * lattice.pitch_mm / lattice.stretch[0].max(lattice.stretch[1]);
    // In narrow bays the direction of the rows matters, and the slack little.
    let bays = context.bays.middles.len() > 1;
    let (rows, slacks) = if bays { (rows, &SLACKS[..2]) } else { (&rows[..1], &SLACKS[..]) };
    let ways: Vec<([f32; 2], f32)> =
        rows.iter().flat_map(|row| slacks.iter().map(move |slack| (*row, *slack))).collect();
    let tries = ways
        .par_iter()
        .map(|(row, slack)| {
            let pitch_mm = lattice.pitch_mm * (1.0 + slack);
            let give = 1.0 - lattice.pitch_mm * (1.0 - lattice.give) / pitch_mm;
            let lattice = Lattice { pitch_mm, give, row: *row, ..lattice };
            let mut all = Vec::new();
            for (bay, middle) in context.bays.middles.iter().enumerate() {
                let keep = |frame: &TangentFrame| {
                    context.bays.holds(context.skin, bay, frame) && context.room.at(context.skin, frame) > edge
                };
                let vents = lay(&grow(context.skin, *middle, &lattice, keep, context.job)?)?;
                all.push(vents.into_iter().filter(|v| context.bays.holds(context.skin, bay, &v.frame)).collect());
            }
            Ok(without_close_pairs(all, context.vents.ligament_mm, context.job)?)
        })
        .collect::<Result<Vec<_>, ShellError>>()?;
    let mut best = Vec::new();
    for vents in tries {
        if vents.len() > best.len() {
            best = vents;
        }
    }
    Ok(best)
}

/// Leaves out vents that come too near to one of an earlier bay: lattices know nothing of each other.
fn without_close_pairs(bays: Vec<Vec<Vent>>, ligament: f32, job: &Job) -> Result<Vec<Vent>, Cancelled> {
    if bays.len() < 2 {
        return Ok(bays.into_iter().flatten().collect());
    }
    let reach = bays.iter().flatten().map(|v| v.shape.reach()).fold(0.0, f32::max);
    let mut near = SpatialHash::new(2.0 * reach + ligament);
    let mut taken: Vec<Vent> = Vec::new();
    for vents in bays {
        let earlier = taken.len();
        for vent in vents {
            job.check()?;
            let others = near.within(&vent.frame.point(), 2.0 * reach + ligament);
            let clear = others.iter().filter(|n| **n < earlier).all(|n| {
                let other = &taken[*n];
                let off = other.frame.log_map(&vent.frame);
                // Both directions, since a corner may face a side either way.
                let own = vent.shape.outline(LOOK_MM);
                own.iter().all(|p| {
                    let turned = other.frame.transport_from(&vent.frame, &vent.frame.vector(*p));
                    other.shape.signed_distance([off[0] + turned[0], off[1] + turned[1]]) >= ligament
                })
            });
            if clear {
                near.add(vent.frame.point());
                taken.push(vent);
            }
        }
    }
    Ok(taken)
}
