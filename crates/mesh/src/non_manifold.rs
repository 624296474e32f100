//! Non-manifold vertices: points where parts of a surface only touch.

use smallvec::{SmallVec, smallvec};

use crate::{Adjacency, Cancelled, Job, Mesh, UnionFind};

/// The non-manifold vertices of a mesh, rising: those whose triangles are not all connected round them over edges.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub(crate) fn non_manifold_vertices(mesh: &Mesh, adjacency: &Adjacency, job: &Job) -> Result<Vec<u32>, Cancelled> {
    let is_non_manifold = job.each(mesh.points.len(), |v| {
        let around = adjacency.triangles_around(v as u32);
        !is_one_fan(mesh, adjacency, v as u32, around) && fans(mesh, v as u32, around) > 1
    })?;
    Ok((0..).zip(is_non_manifold).filter_map(|(v, is)| is.then_some(v)).collect())
}

/// Whether all triangles round `v` are reached from the first over edges that two share: a fast test that nearly every
/// vertex passes.
fn is_one_fan(mesh: &Mesh, adjacency: &Adjacency, v: u32, around: &[u32]) -> bool {
    if around.is_empty() {
        return true;
    }
    let mut seen: SmallVec<[bool; 32]> = smallvec![false; around.len()];
    let mut reached: SmallVec<[usize; 32]> = smallvec![0];
    seen[0] = true;
    let mut at = 0;
    while at < reached.len() {
        let t = around[reached[at]] as usize;
        for k in 0..3 {
            let side = [mesh.triangles[t][k], mesh.triangles[t][(k + 1) % 3]];
            // `around` is sorted; `NONE` is never in it.
            let across = around.binary_search(&adjacency.neighbours[t][k]);
            if let Some(i) = across.ok().filter(|i| side.contains(&v) && !seen[*i]) {
                seen[i] = true;
                reached.push(i);
            }
        }
        at += 1;
    }
    reached.len() == around.len()
}

/// Number of sets of triangles round `v` that are connected over edges, non-manifold ones too.
fn fans(mesh: &Mesh, v: u32, around: &[u32]) -> usize {
    let mut spokes: Vec<(u32, u32)> = (0..)
        .zip(around)
        .flat_map(|(i, t)| mesh.triangles[*t as usize].map(|w| (w, i)))
        .filter(|(w, _)| *w != v)
        .collect();
    spokes.sort_unstable();
    let mut fans = UnionFind::new(around.len());
    for pair in spokes.windows(2).filter(|pair| pair[0].0 == pair[1].0) {
        fans.union(pair[0].1, pair[1].1);
    }
    fans.labels().1
}

#[cfg(test)]
mod tests {
    use super::*;
    use test_shapes::tetrahedron;

    #[test]
    fn bodies_that_touch_in_a_vertex_are_found_and_those_on_one_edge_are_not() {
        let two: Mesh = tetrahedron(2.0).and(&tetrahedron(2.0).scaled(-1.0).flipped()).build();
        let joined = |pairs: &[(u32, u32)]| {
            let mut mesh = two.clone();
            for v in mesh.triangles.iter_mut().flatten() {
                *v = pairs.iter().find(|p| p.0 == *v).map_or(*v, |p| p.1);
            }
            non_manifold_vertices(&mesh, &Adjacency::new(&mesh), &Job::silent()).unwrap()
        };
        assert!(joined(&[]).is_empty());
        assert_eq!(joined(&[(4, 0)]), [0]);
        // Four triangles on one edge: the edge is non-manifold, but all triangles at its ends are connected.
        assert!(joined(&[(4, 0), (5, 1)]).is_empty());
    }
}
