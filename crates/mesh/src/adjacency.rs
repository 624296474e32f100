//! Which triangles meet at which edges and vertices.

use crate::job::{Every, Poll, Unstoppable};
use crate::{Cancelled, Job, Mesh};
use smallvec::SmallVec;

/// Stands for "no triangle" in [`Adjacency::neighbours`]: the edge is open or shared by more than two.
pub const NONE: u32 = u32::MAX;

/// Edge and vertex neighbours of a mesh.
#[derive(Debug, Clone)]
pub struct Adjacency {
    /// For triangle `t` and side `k` (from corner `k` to corner `k + 1`), the triangle across, or [`NONE`].
    ///
    /// Only set where exactly two triangles share the edge, whichever way round they run.
    pub neighbours: Vec<[u32; 3]>,
    /// Number of undirected edges used by one triangle only.
    pub open_edges: usize,
    /// Number of undirected edges used by more than two triangles.
    pub non_manifold_edges: usize,
    /// Number of edges whose two triangles run along them in the same direction (one of them is flipped).
    pub flipped_edges: usize,
    /// Bit `k` for an open side `k`, one byte a triangle.
    open_sides: Vec<u8>,
    starts: Vec<u32>,
    around: Vec<u32>,
}

impl Adjacency {
    /// Finds the neighbours of every triangle and vertex, in O(n log n).
    #[must_use]
    pub fn new(mesh: &Mesh) -> Self {
        let Ok(found) = Self::polled(mesh, &Unstoppable);
        found
    }

    /// As [`Adjacency::new`].
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub fn build(mesh: &Mesh, job: &Job) -> Result<Self, Cancelled> {
        Self::polled(mesh, job)
    }

    pub(crate) fn polled<P: Poll>(mesh: &Mesh, poll: &P) -> Result<Self, P::Stop> {
        let mut found = Self {
            neighbours: vec![[NONE; 3]; mesh.triangles.len()],
            open_edges: 0,
            non_manifold_edges: 0,
            flipped_edges: 0,
            open_sides: vec![0; mesh.triangles.len()],
            starts: Vec::new(),
            around: Vec::new(),
        };
        (found.starts, found.around) = triangles_by_vertex(mesh);
        poll.poll()?;
        let mut every = Every::new(poll, 16_384);
        // Each undirected edge is handled once, from its lower vertex.
        let mut sides: Vec<(u32, u32, u8, bool)> = Vec::new();
        for low in 0..mesh.points.len() as u32 {
            every.tick()?;
            sides.clear();
            for &t in found.triangles_around(low) {
                let c = mesh.triangles[t as usize];
                for k in 0..3_u8 {
                    let (a, b) = (c[k as usize], c[(k as usize + 1) % 3]);
                    if a == low && b > low {
                        sides.push((b, t, k, true));
                    } else if b == low && a > low {
                        sides.push((a, t, k, false));
                    }
                }
            }
            sides.sort_unstable();
            for edge in sides.chunk_by(|x, y| x.0 == y.0) {
                match edge {
                    [(_, t, k, _)] => {
                        found.open_edges += 1;
                        found.open_sides[*t as usize] |= 1 << k;
                    }
                    [(_, t, k, forward), (_, u, l, other)] => {
                        found.flipped_edges += usize::from(forward == other);
                        found.neighbours[*t as usize][*k as usize] = *u;
                        found.neighbours[*u as usize][*l as usize] = *t;
                    }
                    _ => found.non_manifold_edges += 1,
                }
            }
        }
        Ok(found)
    }

    /// Whether side `k` of triangle `t` belongs to no other triangle.
    #[must_use]
    pub fn is_open(&self, t: usize, k: usize) -> bool {
        self.open_sides[t] >> k & 1 == 1
    }

    /// The triangles that use vertex `v`, in rising order.
    #[must_use]
    pub fn triangles_around(&self, v: u32) -> &[u32] {
        &self.around[self.starts[v as usize] as usize..self.starts[v as usize + 1] as usize]
    }

    /// The vertices that share an edge with `v`, each once, in rising order.
    #[must_use]
    pub fn vertices_around(&self, mesh: &Mesh, v: u32) -> SmallVec<[u32; 16]> {
        // Twice the usual six, as each comes with two triangles.
        let mut ring: SmallVec<[u32; 16]> =
            self.triangles_around(v).iter().flat_map(|t| mesh.triangles[*t as usize]).filter(|w| *w != v).collect();
        ring.sort_unstable();
        ring.dedup();
        ring
    }

    /// Loops of open edges, each as its vertices in the direction of the triangles' sides.
    ///
    /// The order is fixed: each loop starts at the lowest edge left, and where loops touch at a vertex it leaves by the
    /// lowest unused edge. Inconsistently oriented triangles can end a loop before it closes.
    #[must_use]
    pub fn boundary_loops(&self, mesh: &Mesh) -> Vec<Vec<u32>> {
        let mut next: Vec<(u32, u32)> = Vec::with_capacity(self.open_edges);
        for (t, corners) in mesh.triangles.iter().enumerate() {
            next.extend((0..3).filter(|k| self.is_open(t, *k)).map(|k| (corners[k], corners[(k + 1) % 3])));
        }
        next.sort_unstable();
        let mut used = vec![false; next.len()];
        // At the first edge from each vertex: the lowest of its edges that may still be unused, so that the search
        // stays linear.
        let mut lowest: Vec<usize> = (0..next.len()).collect();
        let mut loops = Vec::new();
        for start in 0..next.len() {
            if used[start] {
                continue;
            }
            let mut ring = Vec::new();
            let mut at = start;
            loop {
                used[at] = true;
                ring.push(next[at].0);
                let to = next[at].1;
                if to == next[start].0 {
                    break;
                }
                let first = next.partition_point(|e| e.0 < to);
                let Some(mut on) = lowest.get(first).copied() else { break };
                while on < next.len() && next[on].0 == to && used[on] {
                    on += 1;
                }
                lowest[first] = on;
                if on == next.len() || next[on].0 != to {
                    break;
                }
                at = on;
            }
            loops.push(ring);
        }
        loops
    }

    /// Connected components over shared edges: the number of its component for each triangle, and how many there are.
    #[must_use]
    pub fn connected_components(&self) -> (Vec<u32>, usize) {
        let mut component = vec![NONE; self.neighbours.len()];
        let mut count = 0;
        let mut stack = Vec::new();
        for start in 0..component.len() {
            if component[start] != NONE {
                continue;
            }
            component[start] = count;
            stack.push(start as u32);
            while let Some(t) = stack.pop() {
                for &n in &self.neighbours[t as usize] {
                    if n != NONE && component[n as usize] == NONE {
                        component[n as usize] = count;
                        stack.push(n);
                    }
                }
            }
            count += 1;
        }
        (component, count as usize)
    }
}

/// For each vertex, where its triangles start in the second list; and that list.
fn triangles_by_vertex(mesh: &Mesh) -> (Vec<u32>, Vec<u32>) {
    let mut starts = vec![0_u32; mesh.points.len() + 1];
    for v in mesh.triangles.iter().flatten() {
        starts[*v as usize + 1] += 1;
    }
    for i in 1..starts.len() {
        starts[i] += starts[i - 1];
    }
    let mut fill = starts.clone();
    let mut around = vec![0_u32; mesh.triangles.len() * 3];
    for (t, corners) in mesh.triangles.iter().enumerate() {
        for v in corners {
            around[fill[*v as usize] as usize] = t as u32;
            fill[*v as usize] += 1;
        }
    }
    (starts, around)
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    fn square() -> Mesh {
        let p = |x: f32, y: f32| Point3::new(x, y, 0.0);
        Mesh::new(vec![p(0., 0.), p(1., 0.), p(1., 1.), p(0., 1.)], vec![[0, 1, 2], [0, 2, 3]])
    }

    #[test]
    fn a_square_has_one_loop_of_four_and_one_inner_edge() {
        let mesh = square();
        let adjacency = Adjacency::new(&mesh);
        assert_eq!(adjacency.open_edges, 4);
        assert_eq!(adjacency.neighbours, vec![[NONE, NONE, 1], [0, NONE, NONE]]);
        assert_eq!(adjacency.boundary_loops(&mesh), vec![vec![0, 1, 2, 3]]);
        assert_eq!(adjacency.connected_components().1, 1);
        assert_eq!(adjacency.vertices_around(&mesh, 0), [1, 2, 3].into());
    }

    /// Two thousand triangles that meet in one vertex only: work must not grow with the square of their number.
    #[test]
    fn loops_that_touch_in_one_vertex_are_told_apart() {
        let n = 2000_u32;
        let points = (0..=2 * n).map(|i| Point3::new(i as f32, (i * i % 7) as f32, 1.0)).collect();
        let mesh = Mesh::new(points, (0..n).map(|i| [0, 2 * i + 1, 2 * i + 2]).collect());
        let adjacency = Adjacency::new(&mesh);
        let loops = adjacency.boundary_loops(&mesh);
        assert_eq!(loops.len(), n as usize);
        assert!(loops.iter().enumerate().all(|(i, l)| *l == [0, 2 * i as u32 + 1, 2 * i as u32 + 2]));
        assert_eq!(adjacency.connected_components().1, n as usize);
    }

    #[test]
    fn a_cancelled_job_stops_it() {
        let job = Job::silent();
        job.cancel();
        assert!(matches!(Adjacency::build(&square(), &job), Err(Cancelled)));
    }

    #[test]
    fn flipped_and_non_manifold_edges_are_counted() {
        let mut mesh = square();
        mesh.triangles[1] = [0, 3, 2];
        assert_eq!(Adjacency::new(&mesh).flipped_edges, 1);
        mesh.triangles.push([0, 2, 1]);
        let adjacency = Adjacency::new(&mesh);
        assert_eq!(adjacency.non_manifold_edges, 1);
    }
}
