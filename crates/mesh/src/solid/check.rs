//! The proof that a mesh is a printable solid, or where it is not.

use nalgebra::Point3;

use super::self_intersections;
use crate::non_manifold::non_manifold_vertices;
use crate::{Adjacency, Cancelled, Job, Mesh};

/// What was found. A printable solid has all counts at zero, one component or more and a positive volume.
#[derive(Debug, Clone, PartialEq)]
pub struct SolidReport {
    /// Edges with one triangle only: the mesh has holes.
    pub open_edges: usize,
    /// Non-manifold edges, with more than two triangles.
    pub non_manifold_edges: usize,
    /// Edges whose two triangles face opposite ways.
    pub flipped_edges: usize,
    /// Non-manifold vertices, where two or more fans of triangles touch.
    pub non_manifold_vertices: usize,
    /// Triangles without area.
    pub flat_triangles: usize,
    /// Pairs of triangles that cross or touch; of a tangle not all are counted, see [`self_intersections`].
    pub crossing_pairs: usize,
    /// Vertices with too many triangles round them to compare each with each, see [`self_intersections`].
    pub high_valence_vertices: usize,
    /// Connected components over edges.
    pub components: usize,
    /// Enclosed volume, mm³; negative when inside out.
    pub volume_mm3: f64,
    /// Surface, mm².
    pub area_mm2: f64,
    /// Up to 20 places of the faults above.
    pub places: Vec<Point3<f32>>,
}

impl SolidReport {
    /// Whether the mesh is a closed, manifold solid, outward and without self-intersection, in any number of
    /// components.
    #[must_use]
    pub fn is_solid(&self) -> bool {
        self.faults().is_empty()
    }

    /// One sentence for each kind of fault.
    #[must_use]
    pub fn faults(&self) -> Vec<String> {
        let counted = [
            (self.open_edges, ["open edge: the surface has a hole", "open edges: the surface has holes"]),
            (
                self.non_manifold_edges,
                ["edge that more than two triangles share", "edges that more than two triangles share"],
            ),
            (
                self.flipped_edges,
                ["edge whose triangles face opposite ways", "edges whose triangles face opposite ways"],
            ),
            (
                self.non_manifold_vertices,
                ["point where the surface only touches itself", "points where the surface only touches itself"],
            ),
            (self.flat_triangles, ["triangle without area", "triangles without area"]),
            (
                self.crossing_pairs,
                ["pair of triangles that cross each other", "pairs of triangles that cross each other"],
            ),
            (
                self.high_valence_vertices,
                [
                    "point with hundreds of triangles folded round it, too many to compare",
                    "points with hundreds of triangles folded round them, too many to compare",
                ],
            ),
        ];
        let mut faults: Vec<String> = counted
            .iter()
            .filter(|(n, _)| *n > 0)
            .map(|(n, [one, many])| format!("{n} {}", if *n == 1 { one } else { many }))
            .collect();
        if self.components == 0 {
            faults.push("there is no surface".into());
        } else if self.volume_mm3 <= 0.0 {
            faults.push("the surface is inside out or encloses nothing".into());
        }
        faults
    }
}

/// Examines `mesh`.
///
/// # Errors
/// [`Cancelled`] when the job was.
pub fn check(mesh: &Mesh, job: &Job) -> Result<SolidReport, Cancelled> {
    const PLACES: usize = 20;
    let (topology, crossings) = rayon::join(
        || {
            let adjacency = Adjacency::build(mesh, job)?;
            let non_manifold = non_manifold_vertices(mesh, &adjacency, job)?;
            Ok((adjacency, non_manifold))
        },
        || self_intersections(mesh, job),
    );
    let ((adjacency, non_manifold), crossings) = (topology?, crossings?);
    job.check()?;
    let flat: Vec<usize> = (0..mesh.triangles.len()).filter(|t| mesh.cross(*t).norm_squared() == 0.0).collect();
    let mut places: Vec<Point3<f32>> = Vec::new();
    for (t, sides) in adjacency.neighbours.iter().enumerate() {
        if places.len() >= PLACES {
            break;
        }
        if let Some(k) = sides.iter().position(|n| *n == crate::NONE) {
            places.push(mesh.corners(t)[k]);
        }
    }
    places.extend(non_manifold.iter().map(|v| mesh.points[*v as usize]));
    places.extend(flat.iter().map(|t| mesh.corners(*t)[0]));
    places.extend(crossings.pairs.iter().map(|[t, _]| mesh.corners(*t as usize)[0]));
    places.extend(crossings.high_valence_vertices.iter().map(|v| mesh.points[*v as usize]));
    places.truncate(PLACES);
    job.check()?;
    let components = adjacency.connected_components().1;
    job.check()?;
    let (volume_mm3, area_mm2) = (mesh.volume_mm3(), mesh.area_mm2());
    Ok(SolidReport {
        open_edges: adjacency.open_edges,
        non_manifold_edges: adjacency.non_manifold_edges,
        flipped_edges: adjacency.flipped_edges,
        non_manifold_vertices: non_manifold.len(),
        flat_triangles: flat.len(),
        crossing_pairs: crossings.pairs.len(),
        high_valence_vertices: crossings.high_valence_vertices.len(),
        components,
        volume_mm3,
        area_mm2,
        places,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cube() -> Mesh {
        test_shapes::cuboid([1.0; 3]).build()
    }

    #[test]
    fn a_cube_is_a_solid_and_its_faults_are_found() {
        let report = check(&cube(), &Job::silent()).unwrap();
        assert!(report.is_solid(), "{:?}", report.faults());
        assert!((report.volume_mm3 - 1.0).abs() < 1e-12 && (report.area_mm2 - 6.0).abs() < 1e-12);

        let mut open = cube();
        open.triangles.pop();
        let report = check(&open, &Job::silent()).unwrap();
        assert_eq!(report.open_edges, 3);
        assert_eq!(report.faults(), ["3 open edges: the surface has holes"]);

        let mut flipped = cube();
        flipped.triangles[0].swap(0, 1);
        assert_eq!(check(&flipped, &Job::silent()).unwrap().flipped_edges, 3);

        let mut inside_out = cube();
        inside_out.triangles.iter_mut().for_each(|t| t.swap(0, 1));
        assert!(!check(&inside_out, &Job::silent()).unwrap().is_solid());
    }

    #[test]
    fn two_cubes_that_touch_in_a_corner_share_a_non_manifold_vertex() {
        let mut two = cube();
        let other = cube();
        let corner = |v: u32| if v == 0 { 7 } else { v + 7 };
        two.points.extend(other.points[1..].iter().map(|p| p + nalgebra::Vector3::repeat(1.0)));
        two.triangles.extend(other.triangles.iter().map(|t| t.map(corner)));
        let report = check(&two, &Job::silent()).unwrap();
        assert_eq!(report.non_manifold_vertices, 1);
        let words = "1 point where the surface only touches itself";
        assert!(report.faults().iter().any(|fault| fault == words), "{:?}", report.faults());
    }
}
