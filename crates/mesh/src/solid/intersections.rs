//! Pairs of triangles of one mesh that meet where they should not.

use super::crossing::{meet, meet_beyond_edge, meet_beyond_vertex};
use super::fans::{Fan, fans};
use super::pairs::LinearBvh;
use crate::{Cancelled, Job, Mesh};

/// Where triangles of a mesh meet beyond the corners and edges that they share.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SelfIntersections {
    /// Pairs of triangles that touch or cross, the lower number first. Of a tangle, where hundreds of triangles cross
    /// one, at most 128 pairs for each triangle.
    pub pairs: Vec<[u32; 2]>,
    /// Vertices with more than 512 triangles round them that do not lie in one flat fan. Those triangles were not
    /// compared with any, as the time would grow with the square of their number.
    pub high_valence_vertices: Vec<u32>,
}

/// Finds where a mesh meets itself, decided exactly on the stored f32 coordinates. Checks for cancellation every four
/// triangles.
///
/// # Errors
/// [`Cancelled`] when the job was.
pub fn self_intersections(mesh: &Mesh, job: &Job) -> Result<SelfIntersections, Cancelled> {
    if mesh.triangles.is_empty() {
        return Ok(SelfIntersections::default());
    }
    let fans = fans(mesh, job)?;
    let is_high_valence = |v: &u32| fans[*v as usize] == Fan::HighValence;
    let high_valence_vertices: Vec<u32> = (0..mesh.points.len() as u32).filter(is_high_valence).collect();
    let compared = |t: u32| high_valence_vertices.is_empty() || !mesh.triangles[t as usize].iter().any(is_high_valence);
    let tree = LinearBvh::new(mesh, &compared, job)?;
    let mut pairs = tree.pairs(&|t, u| meets(mesh, &fans, t, u), job)?;
    pairs.iter_mut().for_each(|pair| pair.sort_unstable());
    pairs.sort_unstable();
    Ok(SelfIntersections { pairs, high_valence_vertices })
}

fn meets(mesh: &Mesh, fans: &[Fan], t: u32, u: u32) -> bool {
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
    if count < 3 && shared[..count].iter().any(|(i, _)| fans[a[*i] as usize] == Fan::Flat) {
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
    use nalgebra::Point3;
    use test_shapes::tetrahedron;

    fn pairs(mesh: &Mesh) -> Vec<[u32; 2]> {
        self_intersections(mesh, &Job::silent()).unwrap().pairs
    }

    #[test]
    fn a_triangle_that_names_a_vertex_twice_is_flat_and_crosses_nothing() {
        let mut mesh: Mesh = tetrahedron(2.0).build();
        let [a, b, _] = mesh.triangles[0];
        mesh.triangles.extend([[a, a, b], [a, b, b], [a, a, a]]);
        assert!(pairs(&mesh).is_empty());
        assert_eq!(crate::solid::check(&mesh, &Job::silent()).unwrap().flat_triangles, 3);
    }

    fn both(shift: f32) -> Mesh {
        tetrahedron(2.0).and(&tetrahedron(2.0).moved([shift, 0.0, 0.0])).build()
    }

    #[test]
    fn two_tetrahedra_cross_when_pushed_together() {
        assert!(pairs(&both(5.0)).is_empty());
        assert!(!pairs(&both(0.5)).is_empty());
        let job = Job::silent();
        job.cancel();
        assert_eq!(self_intersections(&both(0.5), &job), Err(Cancelled));
    }

    /// A spindle whose triangles go twice round its ends crosses itself along its axis. Few triangles are found as
    /// pairs, many as ends of high valence, and it is a solid in neither case.
    #[test]
    fn a_high_valence_spindle_is_never_a_solid() {
        for around in [100, 2000] {
            let ring = (0..around).map(|i| {
                let (s, c) = (4.0 * std::f32::consts::PI * i as f32 / around as f32).sin_cos();
                Point3::new(c, s, 0.3 * (i as f32 / around as f32 - 0.5))
            });
            let points = [Point3::new(0.0, 0.0, 1.0), Point3::new(0.0, 0.0, -1.0)].into_iter().chain(ring).collect();
            let next = |i: u32| (i + 1) % around + 2;
            let triangles = (0..around).flat_map(|i| [[0, i + 2, next(i)], [1, next(i), i + 2]]).collect();
            let mesh = Mesh::new(points, triangles);
            let found = self_intersections(&mesh, &Job::silent()).unwrap();
            let high_valence: &[u32] = if around > 512 { &[0, 1] } else { &[] };
            assert_eq!(found.high_valence_vertices, high_valence);
            assert_eq!(found.pairs.is_empty(), around > 512);
            assert!(!crate::solid::check(&mesh, &Job::silent()).unwrap().is_solid());
        }
    }
}
