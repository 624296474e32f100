//! Splitting edges that more than two triangles share and points where surfaces only touch.

use crate::{Adjacency, Mesh, NONE};

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
pub fn make_manifold(mesh: &mut Mesh) -> Split {
    let mut done = Split::default();
    // Each round either ends or drops triangles; a few rounds do on any real scan.
    loop {
        let adjacency = Adjacency::new(mesh);
        let (links, non_manifold) = links(mesh, &adjacency);
        if done.edges == 0 {
            done.edges = non_manifold.len();
        }
        done.points += split_fans(mesh, &adjacency, &links);
        if non_manifold.is_empty() {
            return done;
        }
        let dropped = drop_non_manifold(mesh);
        done.dropped += dropped;
        if dropped == 0 && Adjacency::new(mesh).non_manifold_edges == 0 {
            return done;
        }
    }
}

/// Cuts the given sides (triangle, side) apart and splits the points that this frees; returns how many points.
pub(super) fn cut_sides(mesh: &mut Mesh, sides: &[(u32, u8)]) -> usize {
    let adjacency = Adjacency::new(mesh);
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
    split_fans(mesh, &adjacency, &links)
}

/// Lower and higher point of an edge, a triangle at it, and which of its sides it is.
type SharedSide = (u32, u32, u32, u8);

/// The neighbours, with the best pair joined at each non-manifold edge; and the non-manifold edges, sorted.
fn links(mesh: &Mesh, adjacency: &Adjacency) -> (Vec<[u32; 3]>, Vec<(u32, u32)>) {
    let mut links = adjacency.neighbours.clone();
    let mut non_manifold: Vec<SharedSide> = Vec::new();
    if adjacency.non_manifold_edges == 0 {
        return (links, Vec::new());
    }
    for (t, corners) in mesh.triangles.iter().enumerate() {
        for k in 0..3 {
            let (a, b) = (corners[k], corners[(k + 1) % 3]);
            if adjacency.neighbours[t][k] == NONE {
                non_manifold.push((a.min(b), a.max(b), t as u32, k as u8));
            }
        }
    }
    non_manifold.sort_unstable();
    let mut edges = Vec::new();
    for sides in non_manifold.chunk_by(|x, y| (x.0, x.1) == (y.0, y.1)) {
        if sides.len() < 3 {
            continue;
        }
        edges.push((sides[0].0, sides[0].1));
        let mut best = (f64::NEG_INFINITY, 0, 1);
        for i in 0..sides.len() {
            for j in i + 1..sides.len() {
                let flat = smoothness(mesh, &sides[i], &sides[j]);
                if flat > best.0 {
                    best = (flat, i, j);
                }
            }
        }
        let (_, _, t, k) = sides[best.1];
        let (_, _, u, l) = sides[best.2];
        links[t as usize][k as usize] = u;
        links[u as usize][l as usize] = t;
    }
    (links, edges)
}

/// Cosine of the bend between two triangles over a shared edge, 1 where they run on flat, whichever way each is turned.
fn smoothness(mesh: &Mesh, a: &SharedSide, b: &SharedSide) -> f64 {
    let away = |s: &SharedSide| {
        let [p, q, r] =
            [0, 1, 2].map(|i| mesh.points[mesh.triangles[s.2 as usize][(s.3 as usize + i) % 3] as usize].cast::<f64>());
        let along = (q - p).try_normalize(1e-300).unwrap_or_default();
        let out = r - p;
        (out - along * out.dot(&along)).try_normalize(1e-300).unwrap_or_default()
    };
    -away(a).dot(&away(b))
}

fn split_fans(mesh: &mut Mesh, adjacency: &Adjacency, links: &[[u32; 3]]) -> usize {
    let before = mesh.points.len();
    let mut fan: Vec<usize> = Vec::new();
    let mut stack = Vec::new();
    let original = mesh.triangles.clone();
    for v in 0..before as u32 {
        let around = adjacency.triangles_around(v);
        fan.clear();
        fan.resize(around.len(), usize::MAX);
        let mut fans = 0;
        for start in 0..around.len() {
            if fan[start] != usize::MAX {
                continue;
            }
            fan[start] = fans;
            stack.push(start);
            while let Some(i) = stack.pop() {
                let t = around[i] as usize;
                for k in 0..3 {
                    if original[t][k] != v && original[t][(k + 1) % 3] != v {
                        continue;
                    }
                    if let Ok(j) = around.binary_search(&links[t][k])
                        && fan[j] == usize::MAX
                    {
                        fan[j] = fans;
                        stack.push(j);
                    }
                }
            }
            fans += 1;
        }
        for extra in 1..fans {
            let copy = mesh.points.len() as u32;
            mesh.points.push(mesh.points[v as usize]);
            if let Some(colours) = &mut mesh.colours {
                colours.push(colours[v as usize]);
            }
            for (i, t) in around.iter().enumerate() {
                if fan[i] == extra {
                    for corner in &mut mesh.triangles[*t as usize] {
                        if *corner == v {
                            *corner = copy;
                        }
                    }
                }
            }
        }
    }
    mesh.points.len() - before
}

/// Drops the triangles beyond the best pair at edges that are still non-manifold.
fn drop_non_manifold(mesh: &mut Mesh) -> usize {
    let adjacency = Adjacency::new(mesh);
    if adjacency.non_manifold_edges == 0 {
        return 0;
    }
    let (links, edges) = links(mesh, &adjacency);
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
    before - mesh.triangles.len()
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
        let done = make_manifold(&mut mesh);
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
        assert_eq!(make_manifold(&mut mesh).points, 1);
        assert_eq!(mesh.points.len(), 7);
    }
}
