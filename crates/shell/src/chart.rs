//! A flat map of the skin round one point.

use mesh::{Hit, Surface};
use nalgebra::{Point3, Vector3};

/// A flat map of the skin round one point: true distances and directions from that point.
///
/// Coordinates are millimetres: u along `turn_deg` from *around*, v a quarter turn further (see [`crate::Design`]).
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
    /// Coordinates of a vertex, where it lies within the chart.
    #[must_use]
    pub fn uv_of_vertex(&self, vertex: u32) -> Option<[f32; 2]> {
        let at = self.vertices.binary_search_by_key(&vertex, |(v, _)| *v).ok()?;
        Some(self.vertices[at].1)
    }

    /// Coordinates of a skin point, where its whole triangle lies within the chart.
    #[must_use]
    pub fn uv_at(&self, skin: &Surface, hit: &Hit) -> Option<[f32; 2]> {
        let mut uv = [0.0; 2];
        for (v, w) in skin.mesh().triangles[hit.triangle as usize].iter().zip(hit.weights) {
            let corner = self.uv_of_vertex(*v)?;
            uv[0] += corner[0] * w;
            uv[1] += corner[1] * w;
        }
        Some(uv)
    }
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
