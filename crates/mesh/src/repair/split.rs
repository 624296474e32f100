//! Splitting of non-manifold edges and vertices.

use std::f64::consts::{PI, TAU};

use nalgebra::{Point3, Vector3};

use crate::job::Every;
use crate::{Adjacency, Cancelled, Job, Mesh, NONE};

/// What [`make_manifold`] did.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Split {
    /// Edges that more than two triangles shared.
    pub edges: usize,
    /// Points doubled so that each belongs to one fan of triangles.
    pub points: usize,
    /// Triangles dropped because splitting alone could not part them.
    pub dropped: usize,
}

/// Makes every edge belong to at most two triangles and every point to one fan of them.
///
/// Where three or more triangles share an edge the two that run on most smoothly stay joined; the rest are cut off.
///
/// # Errors
/// [`Cancelled`] when `job` is; the mesh may then be half split.
pub fn make_manifold(mesh: &mut Mesh, job: &Job) -> Result<Split, Cancelled> {
    let mut done = Split::default();
    // Each round drops triangles or is the last.
    loop {
        let adjacency = Adjacency::build(mesh, job)?;
        let (links, shared) = links(mesh, &adjacency, job)?;
        if done.edges == 0 {
            done.edges = shared.len();
        }
        done.points += split_fans(mesh, &adjacency, &links, job)?;
        if shared.is_empty() {
            return Ok(done);
        }
        let dropped = drop_non_manifold(mesh, job)?;
        done.dropped += dropped;
        if dropped == 0 {
            return Ok(done);
        }
    }
}

/// Cuts the given sides (triangle, side) apart and splits the points that this frees; returns how many points.
pub(super) fn cut_sides(mesh: &mut Mesh, sides: &[(u32, u8)], job: &Job) -> Result<usize, Cancelled> {
    let adjacency = Adjacency::build(mesh, job)?;
    let mut links = adjacency.neighbours.clone();
    for (t, k) in sides {
        let across = links[*t as usize][*k as usize];
        if across != NONE {
            links[*t as usize][*k as usize] = NONE;
            for back in &mut links[across as usize] {
                if back == t {
                    *back = NONE;
                }
            }
        }
    }
    split_fans(mesh, &adjacency, &links, job)
}

/// Lower and higher point of an edge, a triangle at it, and which of its sides it is.
type SharedSide = (u32, u32, u32, u8);

/// For each triangle the one across each side, with the best pair joined at each non-manifold edge.
type Links = Vec<[u32; 3]>;

/// The links, and the non-manifold edges, sorted.
fn links(mesh: &Mesh, adjacency: &Adjacency, job: &Job) -> Result<(Links, Vec<(u32, u32)>), Cancelled> {
    let mut links = adjacency.neighbours.clone();
    if adjacency.non_manifold_edges == 0 {
        return Ok((links, Vec::new()));
    }
    let mut shared: Vec<SharedSide> = Vec::new();
    for (t, corners) in mesh.triangles.iter().enumerate() {
        for k in 0..3 {
            let (a, b) = (corners[k], corners[(k + 1) % 3]);
            if adjacency.neighbours[t][k] == NONE && !adjacency.is_open(t, k) {
                shared.push((a.min(b), a.max(b), t as u32, k as u8));
            }
        }
    }
    shared.sort_unstable();
    let mut edges = Vec::new();
    let mut every = Every::new(job, 1024);
    for sides in shared.chunk_by(|x, y| (x.0, x.1) == (y.0, y.1)) {
        every.tick()?;
        // A triangle with the same corner twice runs along an edge more than once.
        if sides.len() < 3 {
            continue;
        }
        edges.push((sides[0].0, sides[0].1));
        let [(_, _, t, k), (_, _, u, l)] = smoothest_pair(mesh, sides);
        links[t as usize][k as usize] = u;
        links[u as usize][l as usize] = t;
    }
    Ok((links, edges))
}

/// Sides at one edge up to which all pairs are compared.
const ALL_PAIRS: usize = 32;

/// The two of three or more triangles at an edge that continue each other most nearly flat, whatever their orientation.
fn smoothest_pair(mesh: &Mesh, sides: &[SharedSide]) -> [SharedSide; 2] {
    let away: Vec<Vector3<f64>> = sides.iter().map(|side| away_from_edge(mesh, side)).collect();
    // Minus the cosine of the bend: 1 where the two run on flat.
    let smoothness = |i: usize, j: usize| -away[i].dot(&away[j]);
    let mut best = (f64::NEG_INFINITY, 0, 1);
    let mut offer = |i: usize, j: usize| {
        let found = smoothness(i, j);
        if found > best.0 {
            best = (found, i, j);
        }
    };
    if sides.len() <= ALL_PAIRS {
        for i in 0..sides.len() {
            (i + 1..sides.len()).for_each(|j| offer(i, j));
        }
    } else {
        // Sorted round the edge, the one most nearly opposite to each stands beside its angle plus a half turn.
        let (x, y) = (away[0], along_edge(mesh, &sides[0]).cross(&away[0]));
        let mut round: Vec<(f64, usize)> =
            away.iter().enumerate().map(|(i, a)| (a.dot(&y).atan2(a.dot(&x)).rem_euclid(TAU), i)).collect();
        round.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for (angle, i) in &round {
            let after = round.partition_point(|r| r.0 < (angle + PI).rem_euclid(TAU));
            for at in [after + round.len() - 1, after] {
                let j = round[at % round.len()].1;
                if j != *i {
                    offer(*i.min(&j), *i.max(&j));
                }
            }
        }
    }
    [sides[best.1], sides[best.2]]
}

/// Unit direction of an edge, as its triangle runs.
fn along_edge(mesh: &Mesh, side: &SharedSide) -> Vector3<f64> {
    let [p, q] = [0, 1].map(|i| corner(mesh, side, i));
    (q - p).try_normalize(1e-300).unwrap_or_default()
}

/// Unit direction in which a triangle leads away from its edge, square to it.
fn away_from_edge(mesh: &Mesh, side: &SharedSide) -> Vector3<f64> {
    let along = along_edge(mesh, side);
    let out = corner(mesh, side, 2) - corner(mesh, side, 0);
    (out - along * out.dot(&along)).try_normalize(1e-300).unwrap_or_default()
}

/// Corner of the triangle at a side: 0 and 1 are the ends of the edge.
fn corner(mesh: &Mesh, side: &SharedSide, i: usize) -> Point3<f64> {
    mesh.points[mesh.triangles[side.2 as usize][(side.3 as usize + i) % 3] as usize].cast()
}

/// Gives each fan of linked triangles round a point but the first a point of its own; returns how many points.
fn split_fans(mesh: &mut Mesh, adjacency: &Adjacency, links: &[[u32; 3]], job: &Job) -> Result<usize, Cancelled> {
    let before = mesh.points.len();
    let original = mesh.triangles.clone();
    let mut every = Every::new(job, 8192);
    let mut fans = Fans::default();
    for v in 0..before as u32 {
        every.tick()?;
        let around = adjacency.triangles_around(v);
        let count = fans.find(v, around, &original, links);
        let first = mesh.points.len() as u32;
        for _ in 1..count {
            mesh.points.push(mesh.points[v as usize]);
            if let Some(colours) = &mut mesh.colours {
                colours.push(colours[v as usize]);
            }
        }
        for (t, fan) in around.iter().zip(&fans.of).filter(|(_, fan)| **fan > 0) {
            for corner in mesh.triangles[*t as usize].iter_mut().filter(|c| **c == v) {
                *corner = first + *fan as u32 - 1;
            }
        }
    }
    Ok(mesh.points.len() - before)
}

/// The fans of linked triangles round a point.
#[derive(Default)]
struct Fans {
    /// Fan of each triangle round the point, numbered in the order of their first triangles.
    of: Vec<usize>,
    stack: Vec<usize>,
}

impl Fans {
    /// Finds the fans round `v` and returns how many there are.
    fn find(&mut self, v: u32, around: &[u32], triangles: &[[u32; 3]], links: &[[u32; 3]]) -> usize {
        self.of.clear();
        self.of.resize(around.len(), usize::MAX);
        let mut count = 0;
        for start in 0..around.len() {
            if self.of[start] != usize::MAX {
                continue;
            }
            self.of[start] = count;
            self.stack.push(start);
            while let Some(i) = self.stack.pop() {
                let t = around[i] as usize;
                for k in 0..3 {
                    if triangles[t][k] != v && triangles[t][(k + 1) % 3] != v {
                        continue;
                    }
                    if let Ok(j) = around.binary_search(&links[t][k])
                        && self.of[j] == usize::MAX
                    {
                        self.of[j] = count;
                        self.stack.push(j);
                    }
                }
            }
            count += 1;
        }
        count
    }
}

/// Drops the triangles beyond the best pair at edges that are still non-manifold.
fn drop_non_manifold(mesh: &mut Mesh, job: &Job) -> Result<usize, Cancelled> {
    let adjacency = Adjacency::build(mesh, job)?;
    if adjacency.non_manifold_edges == 0 {
        return Ok(0);
    }
    let (links, edges) = links(mesh, &adjacency, job)?;
    let mut drop = vec![false; mesh.triangles.len()];
    for (t, corners) in mesh.triangles.iter().enumerate() {
        for k in 0..3 {
            let (a, b) = (corners[k], corners[(k + 1) % 3]);
            drop[t] |= links[t][k] == NONE && edges.binary_search(&(a.min(b), a.max(b))).is_ok();
        }
    }
    let before = mesh.triangles.len();
    let mut dropped = drop.iter();
    mesh.triangles.retain(|_| !dropped.next().unwrap_or(&false));
    Ok(before - mesh.triangles.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    #[test]
    fn a_fin_is_cut_off_and_the_flat_pair_stays_joined() {
        let p = |x: f32, y: f32, z: f32| Point3::new(x, y, z);
        let mut mesh = Mesh::new(
            vec![p(0., 0., 0.), p(1., 0., 0.), p(0., 1., 0.), p(0., -1., 0.), p(0., 0., 1.)],
            vec![[0, 1, 2], [1, 0, 3], [0, 1, 4]],
        );
        let done = make_manifold(&mut mesh, &Job::silent()).unwrap();
        assert_eq!((done.edges, done.points, done.dropped), (1, 2, 0));
        let adjacency = Adjacency::new(&mesh);
        assert_eq!(adjacency.non_manifold_edges, 0);
        assert_eq!(adjacency.neighbours[0][0], 1);
        assert_eq!(adjacency.connected_components().1, 2);
    }

    #[test]
    fn two_cones_that_touch_in_a_point_are_parted() {
        let p = |x: f32, y: f32, z: f32| Point3::new(x, y, z);
        let mut mesh = Mesh::new(
            vec![p(0., 0., 0.), p(1., 0., 1.), p(0., 1., 1.), p(-1., -1., 1.), p(1., 0., -1.), p(0., 1., -1.)],
            vec![[0, 1, 2], [0, 2, 3], [0, 3, 1], [0, 5, 4]],
        );
        assert_eq!(make_manifold(&mut mesh, &Job::silent()).unwrap().points, 1);
        assert_eq!(mesh.points.len(), 7);
    }

    /// A thousand triangles on one edge: the two that stay joined must be those that comparing all pairs finds.
    #[test]
    fn many_triangles_on_one_edge_keep_the_most_nearly_flat_pair() {
        let mut random = test_shapes::random::seeded(4);
        let mut points = vec![Point3::origin(), Point3::new(0.0, 0.0, 1.0)];
        let n = 1000_u32;
        points.extend((0..n).map(|_| {
            let (s, c) = test_shapes::random::between(&mut random, 0.0, 3.3).sin_cos();
            Point3::new(c, s, 0.5).cast()
        }));
        let mut mesh = Mesh::new(points, (0..n).map(|i| [0, 1, i + 2]).collect());
        let way = |i: u32| mesh.points[i as usize + 2].coords.xy().cast::<f64>().normalize();
        let pairs = (0..n).flat_map(|i| (i + 1..n).map(move |j| (i, j)));
        let (i, j) = pairs.min_by(|a, b| way(a.0).dot(&way(a.1)).total_cmp(&way(b.0).dot(&way(b.1)))).unwrap();
        let done = make_manifold(&mut mesh, &Job::silent()).unwrap();
        assert_eq!((done.edges, done.points, done.dropped), (1, 2 * (n as usize - 2), 0));
        let adjacency = Adjacency::new(&mesh);
        assert_eq!(adjacency.non_manifold_edges, 0);
        assert_eq!(adjacency.neighbours[i as usize][0], j);
    }
}
