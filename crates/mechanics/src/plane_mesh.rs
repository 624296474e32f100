//! A plane region cut into well-shaped triangles, small where its outlines have short sides.

use nalgebra::Point2;
use spade::{AngleLimit, ConstrainedDelaunayTriangulation, HasPosition, RefinementParameters, Triangulation};

/// No angle of a triangle is smaller, degrees, but at corners of the outlines that are so themselves: Ruppert's refinement,
/// as Delaunay triangles with angles up to 30 degrees can be had in practice (Shewchuk 2002, "Delaunay refinement
/// algorithms for triangular mesh generation").
const LEAST_ANGLE_DEG: f64 = 28.0;

/// Points and triangles of a plane region.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaneMesh {
    /// Points, mm.
    pub points: Vec<Point2<f64>>,
    /// Triangles, their corners against the clock.
    pub triangles: Vec<[u32; 3]>,
}

/// Why a region could not be cut.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum PlaneMeshError {
    /// Two outlines, or two sides of one, cross.
    #[error("two outlines cross near {:.1}, {:.1} mm", .0.x, .0.y)]
    Crossing(Point2<f64>),
    /// A coordinate is not a number, or too large.
    #[error("an outline has a point without a place")]
    NoPlace,
    /// It takes too many triangles.
    #[error("the region takes more than {0} points at this size")]
    TooMany(usize),
}

/// A point of an outline.
struct Corner(spade::Point2<f64>);

impl HasPosition for Corner {
    type Scalar = f64;

    fn position(&self) -> spade::Point2<f64> {
        self.0
    }
}

impl From<spade::Point2<f64>> for Corner {
    fn from(p: spade::Point2<f64>) -> Self {
        Self(p)
    }
}

/// Cuts the region between closed outlines: what is inside an odd number of them. No triangle is larger than an equilateral
/// one with sides of `side_mm`, and sides of outlines are split only where triangles need it.
///
/// # Errors
/// [`PlaneMeshError`] where outlines cross, or more than `most_points` would be needed.
pub fn plane_mesh(
    outlines: &[Vec<Point2<f64>>],
    side_mm: f64,
    most_points: usize,
) -> Result<PlaneMesh, PlaneMeshError> {
    let mut corners = Vec::new();
    let mut sides = Vec::new();
    for outline in outlines {
        let first = corners.len();
        corners.extend(outline.iter().map(|p| Corner(spade::Point2::new(p.x, p.y))));
        sides.extend((0..outline.len()).map(|i| [first + i, first + (i + 1) % outline.len()]));
    }
    let places: Vec<Point2<f64>> = outlines.iter().flatten().copied().collect();
    let given = places.len();
    let mut crossing = None;
    let mut cut = ConstrainedDelaunayTriangulation::<Corner>::try_bulk_load_cdt(corners, sides, |[from, _]| {
        crossing = crossing.or(places.get(from).copied().or_else(|| places.first().copied()));
    })
    .map_err(|_| PlaneMeshError::NoPlace)?;
    if let Some(place) = crossing {
        return Err(PlaneMeshError::Crossing(place));
    }
    let parameters = RefinementParameters::new()
        .exclude_outer_faces(true)
        .with_angle_limit(AngleLimit::from_deg(LEAST_ANGLE_DEG))
        .with_max_allowed_area(0.25 * 3.0_f64.sqrt() * side_mm * side_mm)
        .with_max_additional_vertices(most_points.saturating_sub(given));
    let refined = cut.refine(parameters);
    if !refined.refinement_complete {
        return Err(PlaneMeshError::TooMany(most_points));
    }
    let outside: std::collections::HashSet<usize> = refined.excluded_faces.iter().map(|f| f.index()).collect();
    let mut number = vec![u32::MAX; cut.num_vertices()];
    let mut points = Vec::new();
    let mut triangles = Vec::new();
    for face in cut.inner_faces().filter(|face| !outside.contains(&face.fix().index())) {
        triangles.push(face.vertices().map(|vertex| {
            let number = &mut number[vertex.fix().index()];
            if *number == u32::MAX {
                *number = points.len() as u32;
                points.push(Point2::new(vertex.position().x, vertex.position().y));
            }
            *number
        }));
    }
    Ok(PlaneMesh { points, triangles })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(radius: f64, sides: usize) -> Vec<Point2<f64>> {
        let at = |i: usize| std::f64::consts::TAU * i as f64 / sides as f64;
        (0..sides).map(|i| Point2::new(radius * at(i).cos(), radius * at(i).sin())).collect()
    }

    /// Area and least angle, degrees.
    fn measured(mesh: &PlaneMesh) -> (f64, f64) {
        let mut sum = (0.0, f64::INFINITY);
        for t in &mesh.triangles {
            let [a, b, c] = t.map(|v| mesh.points[v as usize]);
            let area2 = (b - a).perp(&(c - a));
            assert!(area2 > 0.0);
            sum.0 += 0.5 * area2;
            for [p, q, r] in [[a, b, c], [b, c, a], [c, a, b]] {
                sum.1 = sum.1.min((q - p).angle(&(r - p)).to_degrees());
            }
        }
        sum
    }

    #[test]
    fn a_ring_keeps_its_area_its_hole_and_good_angles() {
        let (outer, inner) = (ring(30.0, 60), ring(4.0, 24));
        let mesh = plane_mesh(&[outer, inner], 4.0, 10_000).unwrap();
        let polygon = |r: f64, n: f64| 0.5 * n * r * r * (std::f64::consts::TAU / n).sin();
        let (area, angle) = measured(&mesh);
        assert!((area - polygon(30.0, 60.0) + polygon(4.0, 24.0)).abs() < 1e-9, "{area}");
        assert!(angle >= LEAST_ANGLE_DEG, "{angle}");
        assert!(mesh.points.iter().all(|p| p.coords.norm() > 3.9), "nothing in the hole");
    }

    #[test]
    fn crossing_outlines_and_too_many_points_are_said() {
        let square =
            |x: f64| [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]].map(|[a, b]| Point2::new(a + x, b + x));
        let crossed = plane_mesh(&[square(0.0).to_vec(), square(5.0).to_vec()], 2.0, 1000);
        assert!(matches!(crossed, Err(PlaneMeshError::Crossing(_))), "{crossed:?}");
        assert_eq!(plane_mesh(&[square(0.0).to_vec()], 0.1, 100), Err(PlaneMeshError::TooMany(100)));
        let nowhere = vec![Point2::new(f64::NAN, 0.0), Point2::new(1.0, 0.0), Point2::new(0.0, 1.0)];
        assert_eq!(plane_mesh(&[nowhere], 1.0, 100), Err(PlaneMeshError::NoPlace));
    }
}
