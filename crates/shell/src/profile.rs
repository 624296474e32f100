//! The cross-section of the shell: distance to the trim line against distance to the skin.

/// The wall at one skin point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// Skin to inner face, mm.
    pub inner_mm: f32,
    /// Skin to outer face, mm.
    pub outer_mm: f32,
    /// Radius of the rounding of its edges, mm; never more than half the wall.
    pub round_mm: f32,
}

impl Wall {
    /// Signed distance to the profile, negative in the material.
    ///
    /// `edge_mm` is the distance on the skin to the nearest edge, positive inside the zone; the others are how far the
    /// point is above the inner face and below the outer one, which need not be parallel. The profile is the half strip
    /// between them on the inner side of the edge, with both corners rounded.
    #[must_use]
    pub fn signed_distance(&self, edge_mm: f32, above_inner_mm: f32, below_outer_mm: f32) -> f32 {
        let round = self.round_mm.min(0.5 * (above_inner_mm + below_outer_mm));
        let x = round - edge_mm;
        let y = round - above_inner_mm.min(below_outer_mm);
        x.max(0.0).hypot(y.max(0.0)) + x.max(y).min(0.0) - round
    }
}

/// Smooth step from 0 to 1 as `t` goes from 0 to 1, level at both ends.
#[must_use]
pub fn smooth_step(t: f32) -> f32 {
    let t = t.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    const WALL: Wall = Wall { inner_mm: 3.0, outer_mm: 6.0, round_mm: 1.0 };

    /// The distance to the profile by the distance to the edge and the height over the skin.
    fn at(edge: f32, height: f32) -> f32 {
        WALL.signed_distance(edge, height - WALL.inner_mm, WALL.outer_mm - height)
    }

    #[test]
    fn faces_edge_and_corner_are_where_the_drawing_says() {
        assert_relative_eq!(at(20.0, 3.0), 0.0);
        assert_relative_eq!(at(20.0, 6.0), 0.0);
        assert_relative_eq!(at(20.0, 4.5), -1.5);
        assert_relative_eq!(at(0.0, 4.5), 0.0);
        // On the rounded corner, 45 degrees up from the middle of its circle.
        let s = std::f32::consts::FRAC_1_SQRT_2;
        assert_relative_eq!(at(1.0 - s, 5.0 + s), 0.0, epsilon = 1e-6);
        assert_relative_eq!(at(-3.0, 4.5), 3.0);
    }

    #[test]
    fn the_profile_has_slope_one_everywhere_but_on_its_middle() {
        for (e, d) in [(0.3, 5.6), (5.0, 5.5), (-2.0, 8.0), (0.5, 4.0), (4.0, 1.0)] {
            let step = 1e-2;
            let slope = |f: &dyn Fn(f32) -> f32| (f(step) - f(-step)) / (2.0 * step);
            let by_e = slope(&|s| at(e + s, d));
            let by_d = slope(&|s| at(e, d + s));
            assert_relative_eq!(by_e.hypot(by_d), 1.0, epsilon = 1e-3);
        }
    }
}
