//! Which triangles meet at which edges and vertices.

use crate::Mesh;
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
    starts: Vec<u32>,
    around: Vec<u32>,
}

impl Adjacency {
    /// Finds the neighbours of every triangle and vertex, in O(n log n).
    #[must_use]
    pub fn new(mesh: &Mesh) -> Self {
        let triangles = &mesh.triangles;
        let mut starts = vec![0_u32; mesh.points.len() + 1];
        for v in triangles.iter().flatten() {
            starts[*v as usize + 1] += 1;
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut fill = starts.clone();
        let mut around = vec![0_u32; triangles.len() * 3];
        for (t, corners) in triangles.iter().enumerate() {
            for v in corners {
                around[fill[*v as usize] as usize] = t as u32;
                fill[*v as usize] += 1;
            }
        }

        let mut found = Self {
            neighbours: vec![[NONE; 3]; triangles.len()],
            open_edges: 0,
            non_manifold_edges: 0,
            flipped_edges: 0,
            starts,
            around,
        };
        // Each undirected edge is handled once, from its lower vertex.
        let mut sides: Vec<(u32, u32, u8, bool)> = Vec::new();
        for low in 0..mesh.points.len() as u32 {
            sides.clear();
            for &t in found.triangles_around(low) {
                let c = triangles[t as usize];
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
                    [_] => found.open_edges += 1,
                    [(_, t, k, forward), (_, u, l, other)] => {
                        found.flipped_edges += usize::from(forward == other);
                        found.neighbours[*t as usize][*k as usize] = *u;
                        found.neighbours[*u as usize][*l as usize] = *t;
                    }
                    _ => found.non_manifold_edges += 1,
                }
            }
        }
        found
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

    /// Closed runs of open edges, each as vertices in the direction in which the triangles run.
    ///
    /// Starts from the lowest vertex that is left, so the order is fixed. Where several loops touch in one
    /// vertex they are told apart by always leaving over the lowest unused edge.
    #[must_use]
    pub fn boundary_loops(&self, mesh: &Mesh) -> Vec<Vec<u32>> {
        let mut next: Vec<(u32, u32)> = Vec::new();
        for (t, sides) in self.neighbours.iter().enumerate() {
            for (k, across) in sides.iter().enumerate() {
                let (a, b) = (mesh.triangles[t][k], mesh.triangles[t][(k + 1) % 3]);
                // NONE also marks non-manifold edges; only those used once are a boundary.
                if *across == NONE && self.uses_of_edge(mesh, a, b) == 1 {
                    next.push((a, b));
                }
            }
        }
        next.sort_unstable();
        let mut used = vec![false; next.len()];
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
                match (first..next.len()).take_while(|i| next[*i].0 == to).find(|i| !used[*i]) {
                    Some(i) => at = i,
                    None => break,
                }
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

    fn uses_of_edge(&self, mesh: &Mesh, a: u32, b: u32) -> usize {
        self.triangles_around(a).iter().filter(|t| mesh.triangles[**t as usize].contains(&b)).count()
    }
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
