//! Consistent outward orientation.

use nalgebra::{Point3, Vector3};

use super::split::cut_sides;
use crate::job::Every;
use crate::{Adjacency, Cancelled, Job, Mesh, NONE};

/// What [`orient`] did.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Oriented {
    /// Triangles flipped to agree with their neighbours or to face outward.
    pub turned: usize,
    /// Edges cut because the surface is one-sided there (a Möbius band).
    pub cut_edges: usize,
    /// Connected components so flat that neither side is inside; they keep the orientation that most of their area had.
    pub undecided: usize,
}

/// Enclosed volume over area^1.5 under which a component has no inside: a sphere has 0.094, a tube as long as thick
/// about 0.06, a cap that rises by a tenth of its width about 0.04.
const FLAT: f64 = 0.002;

/// Makes neighbours agree, then makes each connected component face outward; the mesh must be manifold.
///
/// Outward is decided by the volume that a component encloses once each of its boundary loops is closed by a fan to the
/// loop's middle: so a tube, a cup and a curved patch face away from the body that they cover.
///
/// # Errors
/// [`Cancelled`] when `job` is; the mesh may then be half turned.
pub fn orient(mesh: &mut Mesh, job: &Job) -> Result<Oriented, Cancelled> {
    let mut agreed = Agreed::find(mesh, job)?;
    for members in &agreed.components {
        // The orientation of most of the area is kept where the shape decides nothing.
        let area = |turned: bool| -> f64 {
            members.iter().filter(|t| agreed.flip[**t as usize] == turned).map(|t| mesh.cross(*t as usize).norm()).sum()
        };
        if area(true) > area(false) {
            for t in members {
                agreed.flip[*t as usize] ^= true;
            }
        }
    }
    for (corners, flip) in mesh.triangles.iter_mut().zip(&agreed.flip) {
        if *flip {
            corners.swap(1, 2);
        }
    }
    let mut done = Oriented { cut_edges: agreed.torn.len(), ..Oriented::default() };
    if !agreed.torn.is_empty() {
        // The sides were numbered before the triangles were flipped.
        let now = |(t, k): &(u32, u8)| (*t, if agreed.flip[*t as usize] { 2 - *k } else { *k });
        let sides: Vec<(u32, u8)> = agreed.torn.iter().map(now).collect();
        cut_sides(mesh, &sides, job)?;
    }
    done.undecided = face_outward(mesh, &mut agreed, job)?;
    done.turned = agreed.flip.iter().filter(|f| **f).count();
    Ok(done)
}

/// Which triangles must be flipped so that neighbours agree.
struct Agreed {
    /// The triangles of each connected component, in rising order.
    components: Vec<Vec<u32>>,
    flip: Vec<bool>,
    /// Sides (triangle, side) over which neighbours cannot agree.
    torn: Vec<(u32, u8)>,
}

impl Agreed {
    fn find(mesh: &Mesh, job: &Job) -> Result<Self, Cancelled> {
        let triangles = &mesh.triangles;
        let adjacency = Adjacency::build(mesh, job)?;
        let mut reached = vec![false; triangles.len()];
        let mut found = Self { components: Vec::new(), flip: vec![false; triangles.len()], torn: Vec::new() };
        let mut every = Every::new(job, 1 << 15);
        let mut stack = Vec::new();
        for start in 0..triangles.len() {
            if reached[start] {
                continue;
            }
            reached[start] = true;
            stack.push(start as u32);
            let mut members = Vec::new();
            while let Some(t) = stack.pop() {
                every.tick()?;
                members.push(t);
                for (k, &u) in adjacency.neighbours[t as usize].iter().enumerate().filter(|(_, u)| **u != NONE) {
                    let (a, b) = (triangles[t as usize][k], triangles[t as usize][(k + 1) % 3]);
                    let other = triangles[u as usize];
                    let same_way = (0..3).any(|i| other[i] == a && other[(i + 1) % 3] == b);
                    let wanted = found.flip[t as usize] != same_way;
                    if !reached[u as usize] {
                        reached[u as usize] = true;
                        found.flip[u as usize] = wanted;
                        stack.push(u);
                    } else if found.flip[u as usize] != wanted && t < u {
                        found.torn.push((t, k as u8));
                    }
                }
            }
            members.sort_unstable();
            found.components.push(members);
        }
        Ok(found)
    }
}

/// Flips the components that face inward; returns how many have no inside.
fn face_outward(mesh: &mut Mesh, agreed: &mut Agreed, job: &Job) -> Result<usize, Cancelled> {
    let adjacency = Adjacency::build(mesh, job)?;
    let mut component_of_point = vec![NONE; mesh.points.len()];
    for (number, members) in agreed.components.iter().enumerate() {
        for v in members.iter().flat_map(|t| mesh.triangles[*t as usize]) {
            component_of_point[v as usize] = number as u32;
        }
    }
    let mut loops: Vec<Vec<Vec<u32>>> = vec![Vec::new(); agreed.components.len()];
    for ring in adjacency.boundary_loops(mesh) {
        loops[component_of_point[ring[0] as usize] as usize].push(ring);
    }
    let mut undecided = 0;
    for (members, loops) in agreed.components.iter().zip(&loops) {
        job.check()?;
        let area: f64 = members.iter().map(|t| 0.5 * mesh.cross(*t as usize).norm()).sum();
        let volume = capped_volume(mesh, members, loops);
        if volume.abs() < FLAT * area.powf(1.5) {
            undecided += 1;
        } else if volume < 0.0 {
            for t in members {
                mesh.triangles[*t as usize].swap(1, 2);
                agreed.flip[*t as usize] ^= true;
            }
        }
    }
    Ok(undecided)
}

/// Volume of a component whose boundary loops are closed by fans to their middles.
fn capped_volume(mesh: &Mesh, members: &[u32], loops: &[Vec<u32>]) -> f64 {
    let origin = mesh.corners(members[0] as usize)[0].cast::<f64>();
    let at = |v: u32| mesh.points[v as usize].cast::<f64>() - origin;
    let six = |a: Vector3<f64>, b: Vector3<f64>, c: Vector3<f64>| a.dot(&b.cross(&c));
    let own: f64 = members
        .iter()
        .map(|t| {
            let [a, b, c] = mesh.triangles[*t as usize];
            six(at(a), at(b), at(c))
        })
        .sum();
    let caps: f64 = loops
        .iter()
        .map(|ring| {
            let middle = loop_middle(mesh, ring) - origin;
            (0..ring.len()).map(|i| six(at(ring[(i + 1) % ring.len()]), at(ring[i]), middle)).sum::<f64>()
        })
        .sum();
    (own + caps) / 6.0
}

/// Middle of a closed loop of points, weighted by length.
fn loop_middle(mesh: &Mesh, ring: &[u32]) -> Point3<f64> {
    let mut sum = Vector3::zeros();
    let mut length = 0.0;
    for (i, v) in ring.iter().enumerate() {
        let (a, b) = (mesh.points[*v as usize].cast::<f64>(), mesh.points[ring[(i + 1) % ring.len()] as usize].cast());
        sum += (a.coords + b.coords) * 0.5 * (b - a).norm();
        length += (b - a).norm();
    }
    if length > 0.0 { Point3::from(sum / length) } else { mesh.points[ring[0] as usize].cast() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use test_shapes::{moebius, tube};

    /// A tube of radius 20 and length 60, every third triangle flipped, the others facing in or out.
    fn mixed_up_tube(inward: bool) -> Mesh {
        let mut mesh: Mesh = tube(20.0, [0.0, 60.0], 40, 21).moved([500.0, 0.0, 0.0]).build();
        for (t, corners) in mesh.triangles.iter_mut().enumerate() {
            if (t % 3 == 0) != inward {
                corners.swap(0, 1);
            }
        }
        mesh
    }

    fn faces_out(mesh: &Mesh) -> bool {
        (0..mesh.triangles.len()).all(|t| {
            let [a, ..] = mesh.corners(t);
            mesh.triangle_normal(t).dot(&Vector3::new(a.x - 500.0, a.y, 0.0)) > 0.0
        })
    }

    #[test]
    fn an_open_tube_faces_outward_whatever_the_file_says() {
        for inward in [false, true] {
            let mut mesh = mixed_up_tube(inward);
            let done = orient(&mut mesh, &Job::silent()).unwrap();
            assert!(faces_out(&mesh));
            assert_eq!(done.turned, if inward { 1600 - 534 } else { 534 });
            assert_eq!((done.cut_edges, done.undecided), (0, 0));
        }
    }

    #[test]
    fn half_a_tube_faces_away_from_its_axis() {
        let mut mesh = mixed_up_tube(true);
        mesh.triangles = mesh.triangles.iter().copied().filter(|t| t.iter().all(|v| v % 40 <= 20)).collect();
        orient(&mut mesh, &Job::silent()).unwrap();
        assert!(faces_out(&mesh));
    }

    #[test]
    fn a_moebius_band_is_cut_once() {
        let mut mesh: Mesh = moebius(30.0, 6.0, 60).build();
        let done = orient(&mut mesh, &Job::silent()).unwrap();
        assert_eq!(done.cut_edges, 1);
        let adjacency = Adjacency::new(&mesh);
        assert_eq!((adjacency.flipped_edges, adjacency.non_manifold_edges), (0, 0));
    }
}
