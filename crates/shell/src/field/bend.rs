//! How openings and marks keep their size in the wall, which lies off the skin that they are drawn on.
//!
//! Where the limb bulges with radius R, what spans an angle is wider by 1 + h/R at a height h over the skin (parallel
//! surfaces; do Carmo 1976, 3-5, exercise 11). A shape is therefore looked up at its coordinates on the skin times
//! I + hW, W being the bend of the skin under it (the shape operator), so that it has its drawn size at every height.
//! Only fittings are made wider on the skin of a hollow, whose room is looked after where they are placed.

use mesh::Surface;
use nalgebra::{Matrix2, Matrix3, Matrix3x2, Vector2, Vector3};

use crate::{Chart, Shape};

/// The bend is measured over at least this distance to all sides of the middle of a shape, mm.
const LEAST_REACH_MM: f32 = 5.0;
/// Limbs do not bulge more sharply than with this radius, mm; what does is an edge of the scan.
const LEAST_RADIUS_MM: f32 = 8.0;
/// A hollow counts as if it had at least this radius, mm: charts reach no farther than what is drawn in it then takes.
const LEAST_HOLLOW_MM: f32 = 35.0;
/// Fewer vertices tell no bend.
const LEAST_VERTICES: usize = 6;

/// How much the skin bends under a shape, along the axes of its chart, 1/mm, positive where it bulges: the symmetric matrix
/// [[a, b], [b, c]].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Bend {
    a: f32,
    b: f32,
    c: f32,
    /// The lesser principal curvature.
    least: f32,
}

impl Bend {
    /// The bend of the skin under a shape by these vertex normals: of the linear map from chart coordinates to the turn
    /// of the normal, least squares over the vertices under it. Without `hollows` it bends nowhere inwards.
    pub(super) fn under(skin: &Surface, normals: &[Vector3<f32>], chart: &Chart, shape: &Shape, hollows: bool) -> Self {
        // Under the shape and beside it, and not in the whole circle round a long one.
        let beside = (LEAST_REACH_MM + shape.signed_distance([0.0; 2])).max(0.0);
        let (points, centre) = (&skin.mesh().points, &chart.centre);
        let corners = skin.mesh().triangles[centre.triangle as usize];
        let sum: Vector3<f32> = corners.iter().zip(centre.weights).map(|(v, w)| normals[*v as usize] * w).sum();
        let Some(up) = sum.try_normalize(1e-6) else { return Self::default() };
        let (right, ahead) = crate::skin_directions(&up);
        let flat = |way: &Vector3<f32>| Vector2::new(way.dot(&right), way.dot(&ahead));
        let under: Vec<(Vector2<f32>, u32)> = chart
            .vertices
            .iter()
            .filter(|(_, uv)| shape.signed_distance(*uv) <= beside)
            .map(|(v, uv)| (Vector2::from(*uv), *v))
            .collect();
        if under.len() < LEAST_VERTICES {
            return Self::default();
        }
        // How the chart is turned against these two directions.
        let (sine, cosine) = under.iter().fold((0.0, 0.0), |(sine, cosine), (uv, v)| {
            let way = flat(&(points[*v as usize] - centre.point));
            (sine + uv.perp(&way), cosine + uv.dot(&way))
        });
        let turned = nalgebra::Rotation2::new(-f32::atan2(sine, cosine));
        let (mut system, mut known) = (Matrix3::<f32>::zeros(), Matrix3x2::<f32>::zeros());
        for (uv, v) in &under {
            let normal = &normals[*v as usize];
            let off = flat(normal);
            let (sine, cosine) = (off.norm(), normal.dot(&up));
            // The angle by which the normal turned, in the direction in which it did.
            let turn = if sine > 1e-6 { turned * off * (sine.atan2(cosine) / sine) } else { Vector2::zeros() };
            let row = Vector3::new(1.0, uv.x, uv.y);
            system += row * row.transpose();
            known += row * turn.transpose();
        }
        let Some(found) = system.cholesky().map(|c| c.solve(&known)) else { return Self::default() };
        let b = 0.5 * (found[(1, 1)] + found[(2, 0)]);
        Self::within_limits(Matrix2::new(found[(1, 0)], b, b, found[(2, 1)]), hollows)
    }

    fn within_limits(bend: Matrix2<f32>, hollows: bool) -> Self {
        let mut own = bend.symmetric_eigen();
        let least = if hollows { -1.0 / LEAST_HOLLOW_MM } else { 0.0 };
        own.eigenvalues.apply(|k| *k = k.clamp(least, 1.0 / LEAST_RADIUS_MM));
        let least = own.eigenvalues.min();
        let kept = own.recompose();
        if kept.iter().all(|x| x.is_finite()) {
            Self { a: kept.m11, b: kept.m12, c: kept.m22, least }
        } else {
            Self::default()
        }
    }

    /// How many times as wide on the skin a shape can be as it is drawn, for a wall that ends at this height; at least 1.
    pub(super) fn widest_on_skin(&self, height_mm: f32) -> f32 {
        1.0 / (1.0 + self.least.min(0.0) * height_mm).max(0.3)
    }

    /// Where what lies over these coordinates at a height over the skin is looked up.
    pub(super) fn at_height(&self, [u, v]: [f32; 2], height_mm: f32) -> [f32; 2] {
        [u + height_mm * (self.a * u + self.b * v), v + height_mm * (self.b * u + self.c * v)]
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use mesh::Job;
    use nalgebra::Point3;

    use super::*;
    use crate::sample_skins::{Rough, ball, tube};

    /// The bend under a disc at a place, in a chart turned by an angle.
    fn bend(skin: &Surface, at: Point3<f32>, turn_deg: f32) -> Bend {
        let hit = skin.nearest(&at, None).unwrap();
        let chart = Chart::new(skin, &hit, turn_deg, 12.0, &Job::silent()).unwrap();
        Bend::under(skin, skin.vertex_normals(), &chart, &Shape::Circle { centre: [0.0; 2], radius: 6.0 }, true)
    }

    #[test]
    fn tubes_bend_round_and_not_along_and_balls_both_ways() {
        let tube = tube(40.0, 80.0, 1.0, Rough::default());
        let round = bend(&tube, Point3::new(40.0, 0.0, 3.0), 0.0);
        assert_relative_eq!(round.a, 1.0 / 40.0, max_relative = 0.02);
        assert!(round.b.abs() < 3e-4 && round.c.abs() < 3e-4, "{round:?}");
        // Half of it each way in a chart that lies across, with both axes alike.
        let across = bend(&tube, Point3::new(0.0, 40.0, -5.0), 45.0);
        assert_relative_eq!(across.a, 0.5 / 40.0, max_relative = 0.03);
        assert_relative_eq!(across.c, 0.5 / 40.0, max_relative = 0.03);
        assert_relative_eq!(across.b.abs(), 0.5 / 40.0, max_relative = 0.03);
        let ball = bend(&ball(50.0, 1.2, Rough::default()), Point3::new(50.0, 0.0, 0.0), 20.0);
        assert_relative_eq!(ball.a, 1.0 / 50.0, max_relative = 0.02);
        assert_relative_eq!(ball.c, 1.0 / 50.0, max_relative = 0.02);
    }

    #[test]
    fn hollows_count_up_to_a_limit_and_not_for_vents() {
        for (hollows, a) in [(true, -0.02), (false, 0.0)] {
            let kept = Bend::within_limits(Matrix2::new(-0.02, 0.0, 0.0, 0.02), hollows);
            assert_relative_eq!(kept.a, a, epsilon = 1e-7);
            assert_relative_eq!(kept.c, 0.02, epsilon = 1e-7);
        }
        let sharp = Bend::within_limits(Matrix2::new(-0.4, 0.0, 0.0, 0.0), true);
        assert_relative_eq!(sharp.widest_on_skin(7.0), 1.0 / 0.8, max_relative = 1e-5);
    }

    #[test]
    fn what_is_drawn_six_wide_is_met_at_six_on_every_height() {
        let bend = Bend { a: 1.0 / 40.0, ..Bend::default() };
        for height in [3.0, 6.0] {
            // Half a width of 3 mm at this height spans less on the skin.
            let on_skin = 3.0 / (1.0 + height / 40.0);
            assert_relative_eq!(bend.at_height([on_skin, 0.0], height)[0], 3.0, epsilon = 1e-6);
        }
    }
}
