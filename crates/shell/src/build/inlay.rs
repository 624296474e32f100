//! The second body of a guard: what fills the seats of inlays, flush with the outer face.
//!
//! Its lower side is the shell's own, triangle for triangle and turned over, so that the two bodies touch and do not
//! overlap. Its upper side is a copy of that, lifted to where the outer face would be without a seat. The two meet along
//! the edge of the seat. Where they would cross near it, the shallowest part of the seat is left unfilled.

use std::collections::{BTreeMap, BTreeSet};

use mesh::solid::{self, SolidReport};
use mesh::{Adjacency, Job, Mesh, NONE};
use nalgebra::Point3;

use super::prove::snapped;
use crate::{Field, ShellError};

/// A point lies in a seat if it is at least this deep, mm.
const DEEP_MM: f32 = 0.03;
/// What lies less deep may be left out of an inlay, mm; at crossings that are left then, what is deeper by this factor,
/// again and again until the last of these.
const UNSEEN_MM: f32 = 0.3;
const DEEPER: f32 = 1.5;
const DEEPEST_MM: f32 = 1.0;
/// How often the edge is moved out of a place where it touches itself.
const MOST_ROUNDS: usize = 20;
/// Vertices between two checks for cancellation.
const VERTICES_A_LOOK: usize = 8192;

/// The second body.
#[derive(Debug, Clone, PartialEq)]
pub struct Inlay {
    /// Its surface, in limb axes: one solid for each letter or part of one.
    pub mesh: Mesh,
    /// The proof that each is a solid: of the one with the largest surface.
    pub proof: SolidReport,
}

/// A part of the shell that lies in seats.
struct Seat<'a> {
    shell: &'a Mesh,
    adjacency: Adjacency,
    /// What lies over each vertex.
    over: Vec<Over>,
    chosen: Vec<bool>,
}

/// What lies over a vertex of the shell.
struct Over {
    /// How deep the vertex lies in a seat, mm.
    depth_mm: f32,
    /// The place of the outer face over it.
    lifted: Point3<f32>,
}

/// The inlay of a shell, if it has any seat. `setting` is named where none can be made.
pub(super) fn inlay(field: &Field<'_>, shell: &Mesh, setting: &str, job: &Job) -> Result<Option<Inlay>, ShellError> {
    let mut seed = None;
    let mut over = Vec::with_capacity(shell.points.len());
    for (n, p) in shell.points.iter().enumerate() {
        if n % VERTICES_A_LOOK == 0 {
            job.check()?;
        }
        let found = field.seat_at(p, seed);
        seed = found.as_ref().map(|seat| seat.near);
        over.push(found.map_or(Over { depth_mm: 0.0, lifted: *p }, |seat| Over {
            depth_mm: seat.depth_mm,
            lifted: p + seat.to_plain,
        }));
    }
    let deep = |t: &[u32; 3]| t.iter().any(|v| over[*v as usize].depth_mm > DEEP_MM);
    let chosen: Vec<bool> = shell.triangles.iter().map(deep).collect();
    if !chosen.iter().any(|c| *c) {
        return Ok(None);
    }
    let mut seat = Seat { shell, adjacency: Adjacency::build(shell, job)?, over, chosen };
    seat.part_edges();
    let refuse = |place: Point3<f32>, what: String| ShellError::CannotBuild {
        setting: setting.to_owned(),
        place,
        what,
        cure: "Raise or sink it instead, or set it larger.".to_owned(),
    };
    let (mut mesh, mut unseen_mm) = (Mesh::default(), UNSEEN_MM);
    for round in 0..MOST_ROUNDS {
        let (body, from) = seat.body();
        mesh = snapped(body);
        let pairs = solid::self_intersections(&mesh, job)?.pairs;
        let crossed: BTreeSet<u32> = pairs.iter().flatten().filter_map(|t| from.get(*t as usize).copied()).collect();
        if crossed.is_empty() || round + 1 == MOST_ROUNDS {
            break;
        }
        while !seat.shed(&crossed, unseen_mm) && unseen_mm < DEEPEST_MM {
            unseen_mm *= DEEPER;
        }
    }
    if mesh.triangles.is_empty() {
        let place = (0..).zip(&seat.over).find(|(_, over)| over.depth_mm > DEEP_MM).map(|(v, _)| seat.point(v));
        return Err(refuse(place.unwrap_or_default(), "its seat is too shallow to be filled".to_owned()));
    }
    let mut proof: Option<SolidReport> = None;
    for part in parts(&mesh, job)? {
        let found = solid::check(&part, job)?;
        if !found.is_solid() {
            let place = found.places.first().or(part.points.first()).copied().unwrap_or_default();
            return Err(refuse(place, format!("its inlay is no printable solid: {}", found.faults().join("; "))));
        }
        if proof.as_ref().is_none_or(|most| most.area_mm2 < found.area_mm2) {
            proof = Some(found);
        }
    }
    Ok(proof.map(|proof| Inlay { mesh, proof }))
}

impl Seat<'_> {
    /// Sides of the seat's edge: of chosen triangles, across from which there is none.
    fn is_edge(&self, t: usize, k: usize) -> bool {
        let other = self.adjacency.neighbours[t][k];
        other == NONE || !self.chosen[other as usize]
    }

    fn on_edge(&self) -> BTreeMap<u32, usize> {
        let mut sides = BTreeMap::new();
        for (t, corners) in self.shell.triangles.iter().enumerate().filter(|(t, _)| self.chosen[*t]) {
            for k in (0..3).filter(|k| self.is_edge(t, *k)) {
                *sides.entry(corners[k]).or_default() += 1;
            }
        }
        sides
    }

    /// Where the edge touches itself at a vertex, all round that vertex is taken in.
    fn part_edges(&mut self) {
        for _ in 0..MOST_ROUNDS {
            let twice: Vec<u32> = self.on_edge().into_iter().filter(|(_, sides)| *sides > 1).map(|(v, _)| v).collect();
            if twice.is_empty() {
                return;
            }
            for v in twice {
                for t in self.adjacency.triangles_around(v) {
                    self.chosen[*t as usize] = true;
                }
            }
        }
    }

    /// Leaves out those of these triangles that lie less deep than `unseen_mm`, and then all round each vertex at which
    /// the edge touches itself. Returns whether any was left out.
    fn shed(&mut self, triangles: &BTreeSet<u32>, unseen_mm: f32) -> bool {
        let below_mm = |v: &u32| (self.lifted(*v) - self.point(*v)).norm();
        let unseen = |t: &&u32| self.shell.triangles[**t as usize].iter().all(|v| below_mm(v) < unseen_mm);
        let mut out: Vec<u32> = triangles.iter().filter(unseen).copied().collect();
        let any = !out.is_empty();
        while !out.is_empty() {
            for t in out.drain(..) {
                self.chosen[t as usize] = false;
            }
            let twice = self.on_edge().into_iter().filter(|(_, sides)| *sides > 1);
            out = twice
                .flat_map(|(v, _)| self.adjacency.triangles_around(v).to_vec())
                .filter(|t| self.chosen[*t as usize])
                .collect();
        }
        any
    }

    /// The body: its lower side, its upper side, and no wall between, as they meet on the edge. A side that leads from
    /// edge to edge across the seat gets a point in its middle, or both copies of it would be one. With it comes the
    /// shell's triangle from which each is.
    fn body(&self) -> (Mesh, Vec<u32>) {
        let edge: BTreeSet<u32> = self.on_edge().into_keys().collect();
        let mut points = Vec::new();
        let mut numbers: BTreeMap<(u32, bool), u32> = BTreeMap::new();
        let mut halves: BTreeMap<(u32, u32, bool), u32> = BTreeMap::new();
        let mut triangles = Vec::new();
        let mut from = Vec::new();
        for upper in [false, true] {
            for (t, corners) in self.shell.triangles.iter().enumerate().filter(|(t, _)| self.chosen[*t]) {
                let mut ring: Vec<u32> = Vec::new();
                for k in 0..3 {
                    let (a, b) = (corners[k], corners[(k + 1) % 3]);
                    // On the edge both sides have the same point.
                    let own = *numbers.entry((a, upper && !edge.contains(&a))).or_insert_with(|| {
                        let lifted = upper && !edge.contains(&a);
                        points.push(if lifted { self.lifted(a) } else { self.point(a) });
                        points.len() as u32 - 1
                    });
                    ring.push(own);
                    if edge.contains(&a) && edge.contains(&b) && !self.is_edge(t, k) {
                        let half = *halves.entry((a.min(b), a.max(b), upper)).or_insert_with(|| {
                            let [p, q] = [a, b].map(|v| if upper { self.lifted(v) } else { self.point(v) });
                            points.push(nalgebra::center(&p, &q));
                            points.len() as u32 - 1
                        });
                        ring.push(half);
                    }
                }
                for [a, b, c] in fan(&ring, &points) {
                    triangles.push(if upper { [a, b, c] } else { [a, c, b] });
                    from.push(t as u32);
                }
            }
        }
        (Mesh::new(points, triangles), from)
    }

    fn point(&self, v: u32) -> Point3<f32> {
        self.shell.points[v as usize]
    }

    fn lifted(&self, v: u32) -> Point3<f32> {
        self.over[v as usize].lifted
    }
}

/// A triangle with points in some of its sides, in triangles: from such a point, if there is one, none of them is flat.
fn fan(ring: &[u32], points: &[Point3<f32>]) -> Vec<[u32; 3]> {
    let n = ring.len();
    match n {
        3 => vec![[ring[0], ring[1], ring[2]]],
        4 | 5 => {
            let flat = |first: usize| {
                (1..n - 1)
                    .map(|k| {
                        let [a, b, c] = [0, k, k + 1].map(|i| points[ring[(first + i) % n] as usize]);
                        (b - a).cross(&(c - a)).norm()
                    })
                    .fold(f32::INFINITY, f32::min)
            };
            let first = (0..n).max_by(|a, b| flat(*a).total_cmp(&flat(*b))).unwrap_or(0);
            (1..n - 1).map(|k| [0, k, k + 1].map(|i| ring[(first + i) % n])).collect()
        }
        // Points in all sides: three corners and the middle.
        _ => {
            let at = |i: usize| ring[i % 6];
            vec![[at(0), at(1), at(5)], [at(1), at(2), at(3)], [at(3), at(4), at(5)], [at(1), at(3), at(5)]]
        }
    }
}

/// The connected components of a mesh, each as a mesh of its own.
fn parts(mesh: &Mesh, job: &Job) -> Result<Vec<Mesh>, ShellError> {
    let (component, count) = Adjacency::build(mesh, job)?.connected_components();
    Ok((0..count)
        .map(|part| {
            let mut numbers = BTreeMap::new();
            let mut points = Vec::new();
            let own = mesh.triangles.iter().zip(&component).filter(|(_, p)| **p as usize == part);
            let triangles = own
                .map(|(corners, _)| {
                    corners.map(|v| {
                        *numbers.entry(v).or_insert_with(|| {
                            points.push(mesh.points[v as usize]);
                            points.len() as u32 - 1
                        })
                    })
                })
                .collect();
            Mesh::new(points, triangles)
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn triangles_with_points_in_their_sides_are_cut_without_slivers() {
        let points: Vec<Point3<f32>> = [[0.0, 0.0], [2.0, 0.0], [4.0, 0.0], [3.0, 2.0], [2.0, 4.0], [1.0, 2.0]]
            .iter()
            .map(|p| Point3::new(p[0], p[1], 0.0))
            .collect();
        // Each with a corner count: the corners are 0, 2 and 4.
        for ring in [vec![0, 2, 4], vec![0, 1, 2, 4], vec![0, 2, 3, 4], vec![0, 1, 2, 3, 4], vec![0, 1, 2, 3, 4, 5]] {
            let cut = fan(&ring, &points);
            assert_eq!(cut.len(), ring.len() - 2);
            let areas = cut.iter().map(|t| {
                let [a, b, c] = t.map(|v| points[v as usize]);
                0.5 * (b - a).cross(&(c - a)).z
            });
            let areas: Vec<f32> = areas.collect();
            assert!(areas.iter().all(|a| *a > 0.5), "{ring:?}: {areas:?}");
            assert!((areas.iter().sum::<f32>() - 8.0).abs() < 1e-5);
        }
    }
}
