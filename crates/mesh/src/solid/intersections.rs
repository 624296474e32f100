//! Pairs of triangles of one mesh that meet where they should not.

use super::crossing::{meet, meet_beyond_edge, meet_beyond_vertex};
use super::fans::flat_fans;
use super::pairs::LinearBvh;
use crate::{Cancelled, Job, Mesh};

/// All pairs of triangles that touch or cross beyond the corners and edges they share, the lower number first. Of a tangle,
/// where hundreds of triangles cross one, at most 128 pairs for each triangle.
///
/// Decided exactly on the stored f32 coordinates. Checks for cancellation every four triangles.
///
/// # Errors
/// [`Cancelled`] when the job was.
pub fn self_intersections(mesh: &Mesh, job: &Job) -> Result<Vec<[u32; 2]>, Cancelled> {
    if mesh.triangles.is_empty() {
        return Ok(Vec::new());
    }
    let (tree, fans) = rayon::join(|| LinearBvh::new(mesh, job), || flat_fans(mesh, job));
    let (tree, fans) = (tree?, fans?);
    let mut pairs = tree.pairs(&|t, u| meets(mesh, &fans, t, u), job)?;
    pairs.iter_mut().for_each(|pair| pair.sort_unstable());
    pairs.sort_unstable();
    Ok(pairs)
}

fn meets(mesh: &Mesh, fans: &[bool], t: u32, u: u32) -> bool {
    let (a, b) = (mesh.triangles[t as usize], mesh.triangles[u as usize]);
    // A triangle that names a vertex twice has no face; it counts as flat.
    if [a, b].iter().any(|c| c[0] == c[1] || c[1] == c[2] || c[2] == c[0]) {
        return false;
    }
    let mut shared = [(0, 0); 3];
    let mut count = 0;
    for (i, v) in a.iter().enumerate() {
        if let Some(j) = b.iter().position(|w| w == v) {
            shared[count] = (i, j);
            count += 1;
        }
    }
    if count < 3 && shared[..count].iter().any(|(i, _)| fans[a[*i] as usize]) {
        return false;
    }
    let rolled = |c: [u32; 3], first: usize| [0, 1, 2].map(|k| mesh.points[c[(first + k) % 3] as usize]);
    match shared[..count] {
        [] => meet(&mesh.corners(t as usize), &mesh.corners(u as usize)),
        [(i, j)] => meet_beyond_vertex(&rolled(a, i), &rolled(b, j)),
        [(i, j), (k, l)] => {
            let point = |c: [u32; 3], at: usize| mesh.points[c[at] as usize];
            let (third_a, third_b) = (3 - i - k, 3 - j - l);
            meet_beyond_edge(
                &[point(a, i), point(a, k), point(a, third_a)],
                &[point(b, j), point(b, l), point(b, third_b)],
            )
        }
        _ => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use test_shapes::tetrahedron;

    #[test]
    fn a_triangle_that_names_a_vertex_twice_is_flat_and_crosses_nothing() {
        let mut mesh: Mesh = tetrahedron(2.0).build();
        let [a, b, _] = mesh.triangles[0];
        mesh.triangles.extend([[a, a, b], [a, b, b]]);
        assert_eq!(self_intersections(&mesh, &Job::silent()).unwrap(), Vec::<[u32; 2]>::new());
        assert_eq!(crate::solid::check(&mesh, &Job::silent()).unwrap().flat_triangles, 2);
    }

    fn both(shift: f32) -> Mesh {
        tetrahedron(2.0).and(&tetrahedron(2.0).moved([shift, 0.0, 0.0])).build()
    }

    #[test]
    fn triangles_with_a_corner_twice_cross_nothing() {
        let mut body: Mesh = tetrahedron(2.0).build();
        body.triangles.extend([[0, 0, 1], [2, 3, 3], [1, 1, 1]]);
        assert!(self_intersections(&body, &Job::silent()).unwrap().is_empty());
    }

    #[test]
    fn two_tetrahedra_cross_when_pushed_together() {
        assert_eq!(self_intersections(&both(5.0), &Job::silent()).unwrap(), Vec::<[u32; 2]>::new());
        assert!(!self_intersections(&both(0.5), &Job::silent()).unwrap().is_empty());
        let job = Job::silent();
        job.cancel();
        assert_eq!(self_intersections(&both(0.5), &job), Err(Cancelled));
    }
}
