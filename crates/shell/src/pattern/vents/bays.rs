//! Bays: the connected components of the free space, such as those between ribs.

use mesh::{Cancelled, Job, SpatialHash, Surface};

use super::{Vent, VentContext};
use crate::pattern::free_space::FreeSpace;
use crate::pattern::tangent_frame::TangentFrame;
use crate::pattern::voronoi::LOOK_MM;

/// Vertices between two checks for cancellation.
const VERTICES_A_LOOK: usize = 16_384;

/// No bay.
const NONE: u32 = u32::MAX;

/// Lattices grow this share of their reach beyond the room, so that rows go on behind a fitting.
pub const BEYOND: f32 = 0.6;

/// The bays of a free space.
#[derive(Debug)]
pub struct Bays {
    /// Bay of each vertex.
    of_vertex: Vec<u32>,
    /// Number of each bay in `of_vertex`, the bay with most vertices first.
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
        let mut numbers: Vec<u32> = (0..found.len() as u32).collect();
        numbers.sort_by_key(|n| std::cmp::Reverse(found[*n as usize].len()));
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
        Ok(Self { of_vertex, numbers })
    }

    /// The bay of a spot; [`NONE`] where it is neither in one nor near it.
    pub fn of(&self, skin: &Surface, frame: &TangentFrame) -> u32 {
        let corners = skin.mesh().triangles[frame.hit.triangle as usize];
        let [u, v, w] = frame.hit.weights;
        let nearest = if u >= v && u >= w {
            corners[0]
        } else if v >= w {
            corners[1]
        } else {
            corners[2]
        };
        self.of_vertex[nearest as usize]
    }

    /// The numbers of the bays, the one with most vertices first.
    pub fn numbers(&self) -> impl Iterator<Item = u32> + '_ {
        self.numbers.iter().copied()
    }
}

/// Lays the sites of each bay out, and keeps what every one of its vents leaves enough wall.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn lay_bays<T>(
    context: &VentContext<'_>,
    bays: &[(u32, Vec<T>)],
    lay: impl Fn(&[T]) -> Result<Vec<Vent>, Cancelled>,
) -> Result<Vec<Vent>, Cancelled> {
    let mut all = Vec::new();
    for (bay, sites) in bays {
        let vents = lay(sites)?;
        all.push(vents.into_iter().filter(|v| context.bays.of(context.skin, &v.frame) == *bay).collect());
    }
    without_close_pairs(all, context.vents.ligament_mm, context.job)
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
