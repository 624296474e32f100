//! A flat map of the skin round one point.

use mesh::{Cancelled, Hit, Job, Surface, TriangleFeature};
use nalgebra::{Point3, Vector3};

mod march;
mod straight;
#[cfg(test)]
mod tests;

/// A flat map of the skin round one point: true distances and directions from that point (its exponential map).
///
/// Coordinates are millimetres: u along `turn_deg` from *around*, v a quarter turn further (see [`crate::Design`]).
/// Lengths are true along rays from the centre; across them a bulging part shrinks by sin(r/R) / (r/R) on a ball of
/// radius R, so that shapes keep their size as long as they are small against the limb's radius.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// The skin point at (0, 0).
    pub centre: Hit,
    /// How far from the centre the map reaches, mm.
    pub radius_mm: f32,
    /// Mapped vertices in rising order, each with its coordinates.
    pub vertices: Vec<(u32, [f32; 2])>,
}

impl Chart {
    /// Maps the skin within `radius_mm` of `at`, as far as it goes: an open edge of the skin cuts the map short.
    ///
    /// Near the centre each vertex is reached straight, by the arc that its chord and the two normals tell
    /// (`straight`); further out, or round a bend, distance and angle march on from triangle to triangle (`march`).
    ///
    /// # Errors
    /// [`Cancelled`] on request; checked every few thousand vertices.
    pub fn new(skin: &Surface, at: &Hit, turn_deg: f32, radius_mm: f32, job: &Job) -> Result<Self, Cancelled> {
        let mut vertices = straight::with_scratch(skin, |scratch| {
            straight::map(skin, at, turn_deg, radius_mm, scratch);
            march::extend(skin, radius_mm, scratch, job)?;
            Ok(scratch.take_mapped())
        })?;
        vertices.sort_unstable_by_key(|(v, _)| *v);
        Ok(Self { centre: *at, radius_mm, vertices })
    }

    /// Coordinates of a vertex, where it lies within the chart.
    #[must_use]
    pub fn uv_of_vertex(&self, vertex: u32) -> Option<[f32; 2]> {
        let at = self.vertices.binary_search_by_key(&vertex, |(v, _)| *v).ok()?;
        Some(self.vertices[at].1)
    }

    /// Coordinates of a skin point, where its whole triangle lies within the chart.
    #[must_use]
    pub fn uv_at(&self, skin: &Surface, hit: &Hit) -> Option<[f32; 2]> {
        let corners = self.uv_of_triangle(skin, hit.triangle)?;
        Some([0, 1].map(|i| corners.iter().zip(hit.weights).map(|(c, w)| c[i] * w).sum()))
    }

    /// The skin point with these coordinates, where the chart reaches it.
    #[must_use]
    pub fn skin_point(&self, skin: &Surface, uv: [f32; 2]) -> Option<Hit> {
        let away2 = |c: [f32; 2]| (c[0] - uv[0]).powi(2) + (c[1] - uv[1]).powi(2);
        let (nearest, _) = self.vertices.iter().min_by(|(_, a), (_, b)| away2(*a).total_cmp(&away2(*b)))?;
        // The point mostly lies beside its nearest vertex; otherwise a few steps lead to it, each over the side that it
        // is farthest beyond.
        let around = skin.adjacency().triangles_around(*nearest);
        around.iter().find_map(|t| self.hit_in(skin, *t, uv)).or_else(|| {
            let mut triangle = *around.first()?;
            for _ in 0..32 {
                let weights = weights_of(self.uv_of_triangle(skin, triangle)?, uv)?;
                let lowest = (0..3).min_by(|i, j| weights[*i].total_cmp(&weights[*j]))?;
                if weights[lowest] >= -SLACK {
                    return self.hit_in(skin, triangle, uv);
                }
                triangle = skin.adjacency().neighbours[triangle as usize][(lowest + 1) % 3];
                if triangle == mesh::NONE {
                    return None;
                }
            }
            None
        })
    }

    fn uv_of_triangle(&self, skin: &Surface, triangle: u32) -> Option<[[f32; 2]; 3]> {
        let [a, b, c] = skin.mesh().triangles[triangle as usize];
        Some([self.uv_of_vertex(a)?, self.uv_of_vertex(b)?, self.uv_of_vertex(c)?])
    }

    fn hit_in(&self, skin: &Surface, triangle: u32, uv: [f32; 2]) -> Option<Hit> {
        let weights = weights_of(self.uv_of_triangle(skin, triangle)?, uv)?;
        if weights.iter().any(|w| *w < -SLACK) {
            return None;
        }
        let weights = weights.map(|w| w.max(0.0));
        let sum: f32 = weights.iter().sum();
        let weights = weights.map(|w| w / sum);
        let corners = skin.mesh().corners(triangle as usize);
        let point = Point3::from(corners.iter().zip(weights).map(|(c, w)| c.coords * w).sum::<Vector3<f32>>());
        Some(Hit { triangle, point, weights, distance2: 0.0, feature: TriangleFeature::Face })
    }
}

/// How far outside a triangle, as a weight, a point may lie because of rounding.
const SLACK: f32 = 1e-4;

/// Barycentric weights of `p`; `None` in a triangle without area.
fn weights_of([a, b, c]: [[f32; 2]; 3], p: [f32; 2]) -> Option<[f32; 3]> {
    let cross = |o: [f32; 2], x: [f32; 2], y: [f32; 2]| (x[0] - o[0]) * (y[1] - o[1]) - (x[1] - o[1]) * (y[0] - o[0]);
    let area = cross(a, b, c);
    if area.abs() < 1e-9 {
        return None;
    }
    let (u, v) = (cross(b, c, p) / area, cross(c, a, p) / area);
    Some([u, v, 1.0 - u - v])
}

/// The two skin directions at a point: *around* and *along* the limb, unit length, square to the normal.
#[must_use]
pub fn skin_directions(normal: &Vector3<f32>) -> (Vector3<f32>, Vector3<f32>) {
    // On top of a fingertip z and the normal agree; any steady direction will do there.
    let around = Vector3::z()
        .cross(normal)
        .try_normalize(1e-4)
        .unwrap_or_else(|| (Vector3::x() - normal * normal.x).normalize());
    (around, normal.cross(&around))
}

/// The nearest skin point to `at_mm`; `None` only without skin.
#[must_use]
pub fn skin_point(skin: &Surface, at_mm: &Point3<f32>) -> Option<Hit> {
    skin.nearest(at_mm, None)
}
