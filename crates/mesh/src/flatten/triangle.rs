//! One triangle in its own plane.

use nalgebra::{Matrix2, Vector2};

use crate::Mesh;

/// Least sine by which a cotangent is divided: narrower corners count as this narrow.
const LEAST_SINE: f64 = 1e-4;

/// A triangle in its own plane: the first corner at the origin, the second on the x axis.
pub(crate) struct Flattened {
    /// Its corners, mm.
    pub(super) corners: [Vector2<f64>; 3],
}

impl Flattened {
    pub(crate) fn new(mesh: &Mesh, t: usize) -> Self {
        let [a, b, c] = mesh.corners(t).map(|p| p.cast::<f64>());
        let (along, other) = (b - a, c - a);
        let length = along.norm();
        let x = if length > 0.0 { along / length } else { nalgebra::Vector3::x() };
        let across = other.dot(&x);
        let corners = [Vector2::zeros(), Vector2::new(length, 0.0), Vector2::new(across, (other - x * across).norm())];
        Self { corners }
    }

    /// The cotangent of the angle at each corner.
    pub(crate) fn cotangents(&self) -> [f64; 3] {
        [0, 1, 2].map(|k| {
            let (a, b) = self.sides_from(k);
            a.dot(&b) / a.perp(&b).abs().max(LEAST_SINE * a.norm() * b.norm()).max(f64::MIN_POSITIVE)
        })
    }

    /// The sides that leave corner `k`.
    fn sides_from(&self, k: usize) -> (Vector2<f64>, Vector2<f64>) {
        let from = self.corners[k];
        (self.corners[(k + 1) % 3] - from, self.corners[(k + 2) % 3] - from)
    }

    /// The greatest and least singular value of the linear map that takes it to `to`, the least with the sign of its
    /// determinant.
    pub(super) fn stretch(&self, to: &[Vector2<f64>; 3]) -> [f64; 2] {
        let sides = |c: &[Vector2<f64>; 3]| Matrix2::from_columns(&[c[1] - c[0], c[2] - c[0]]);
        let Some(own) = sides(&self.corners).try_inverse() else { return [1.0, 1.0] };
        let j = sides(to) * own;
        // Of a 2 × 2 matrix: half the sum and half the difference of the sizes of its similar and its mirrored part.
        let similar = (j[(0, 0)] + j[(1, 1)]).hypot(j[(1, 0)] - j[(0, 1)]);
        let mirrored = (j[(0, 0)] - j[(1, 1)]).hypot(j[(1, 0)] + j[(0, 1)]);
        [0.5 * (similar + mirrored), 0.5 * (similar - mirrored)]
    }
}
