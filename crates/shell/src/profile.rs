//! The cross-section of the shell: distance to the trim line against distance to the skin.

/// A bead melts into the wall over about this width, mm.
const BEAD_FILLET_MM: f32 = 2.0;

/// The wall over one skin point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// Skin to inner face, mm.
    pub inner_mm: f32,
    /// Skin to outer face, mm.
    pub outer_mm: f32,
    /// Radius of the rounding of its edges, mm; never more than half the wall.
    pub round_mm: f32,
    /// Distance on the skin to the trim line, positive inside the zone, mm.
    pub trim_mm: f32,
    /// Distance on the skin to the nearest opening, positive outside of it, mm.
    pub opening_mm: f32,
    /// How much the wall rises towards the trim line, mm a millimetre.
    pub rise: f32,
    /// The square of how much it rises over a relief, in whatever direction.
    pub slope2: f32,
    /// Radius of the bead along the trim line, mm; 0 without one.
    pub bead_mm: f32,
}

impl Wall {
    /// Distance on the skin to the nearest edge, positive in the material, mm.
    #[must_use]
    pub fn edge_mm(&self) -> f32 {
        self.trim_mm.min(self.opening_mm)
    }

    /// Signed distance to the profile, negative in the material.
    ///
    /// What is given is how far the point is above the inner face and below the outer one along the skin's normal; the
    /// two need not be parallel. The profile is the half strip between them on the inner side of the edge, with both
    /// corners rounded. Where the wall rises towards the trim line its end stands square on the wall and not on the
    /// skin, so that no lip gets sharp.
    #[must_use]
    pub fn signed_distance(&self, above_inner_mm: f32, below_outer_mm: f32) -> f32 {
        // Along and square to the wall, which leans by the angle whose tangent is the rise.
        let rise2 = self.rise * self.rise;
        let lean = (1.0 + rise2).sqrt();
        let trim = self.trim_mm * lean - self.rise * above_inner_mm / lean;
        let leans = (1.0 + rise2 + self.slope2).sqrt();
        let (above, below) = (above_inner_mm / leans, below_outer_mm / leans);
        let edge = trim.min(self.opening_mm);
        let round = self.round_mm.min(0.5 * (above + below));
        let x = round - edge;
        let y = round - above.min(below);
        let strip = x.max(0.0).hypot(y.max(0.0)) + x.max(y).min(0.0) - round;
        if self.bead_mm <= 0.0 {
            return strip;
        }
        // A round bar along the edge that lies on the inner face and stands out of the outer one.
        let bead = (trim - self.bead_mm).hypot(above - self.bead_mm) - self.bead_mm;
        smooth_least(strip, bead.max(-self.opening_mm), BEAD_FILLET_MM)
    }
}

/// The lesser of two numbers, rounded where they are nearly the same: a quarter of `width` less where they are.
pub(crate) fn smooth_least(a: f32, b: f32, width: f32) -> f32 {
    let near = (width - (a - b).abs()).max(0.0);
    a.min(b) - near * near / (4.0 * width)
}

/// Smooth step from 0 to 1 as `t` goes from 0 to 1, level at both ends.
#[must_use]
pub fn smooth_step(t: f32) -> f32 {
    let t = t.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// From 0 at 0 to 1 at 1 along a straight line with both ends rounded over the share `round` (up to 0.5) by parabolas.
/// Its curvature is less than that of [`smooth_step`], which has no straight part.
pub fn straight_step(t: f32, round: f32) -> f32 {
    let t = t.clamp(0.0, 1.0);
    // The straight line is steeper by what the rounded ends take away.
    let slope = 1.0 / (1.0 - round);
    let from_end = t.min(1.0 - t);
    let rise =
        if from_end < round { 0.5 * slope * from_end * from_end / round } else { slope * (from_end - 0.5 * round) };
    if t < 0.5 { rise } else { 1.0 - rise }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_straight_step_is_straight_between_rounded_ends_that_meet_it_without_an_edge() {
        let at = |t: f32| straight_step(t, 0.3);
        assert_eq!([at(-0.1), at(0.0), at(1.0), at(1.2)], [0.0, 0.0, 1.0, 1.0]);
        assert_relative_eq!(at(0.5), 0.5);
        let slope = |t: f32| (at(t + 5e-3) - at(t - 5e-3)) / 1e-2;
        // 1 / (1 - 0.3) in the middle; in the rounded ends it grows from nothing in proportion.
        for t in [0.31, 0.4, 0.5, 0.6, 0.69] {
            assert_relative_eq!(slope(t), 1.0 / 0.7, epsilon = 1e-4);
        }
        assert_relative_eq!(slope(0.15), 0.5 / 0.7, epsilon = 1e-4);
        assert_relative_eq!(slope(0.85), 0.5 / 0.7, epsilon = 1e-4);
    }

    const WALL: Wall = Wall {
        inner_mm: 3.0,
        outer_mm: 6.0,
        round_mm: 1.0,
        trim_mm: 0.0,
        opening_mm: f32::INFINITY,
        rise: 0.0,
        slope2: 0.0,
        bead_mm: 0.0,
    };

    /// The distance to the profile by the distance to the edge and the height over the skin.
    fn at(edge: f32, height: f32) -> f32 {
        Wall { trim_mm: edge, ..WALL }.signed_distance(height - WALL.inner_mm, WALL.outer_mm - height)
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

    /// A wall that rises by 3 mm in 4 is 5 mm along where it is 4 on the skin; its end is square on it.
    #[test]
    fn a_rising_wall_keeps_its_thickness_and_a_square_end() {
        let at = |edge: f32, above: f32| {
            let wall = Wall { trim_mm: edge, rise: 0.75, round_mm: 0.0, ..WALL };
            // Set 3 mm thick square to the wall, it is 3.75 mm along the skin's normal.
            wall.signed_distance(above, 3.75 - above)
        };
        assert_relative_eq!(at(20.0, 0.0), 0.0);
        assert_relative_eq!(at(20.0, 3.75), 0.0, epsilon = 1e-6);
        assert_relative_eq!(at(20.0, 3.75 + 1.25), 1.0, epsilon = 1e-6);
        // From the lower edge of the end 3 mm square to the wall: 1.8 inward and 2.4 up, where the inner face, which
        // falls away from the edge, is 1.35 lower.
        assert_relative_eq!(at(0.0, 0.0), 0.0, epsilon = 1e-6);
        assert_relative_eq!(at(1.8, 2.4 + 1.35), 0.0, epsilon = 1e-5);
    }

    #[test]
    fn a_bead_is_a_round_bar_on_the_inner_face() {
        let wall = |edge: f32| Wall { trim_mm: edge, bead_mm: 3.0, ..WALL };
        let at = |edge: f32, above: f32| wall(edge).signed_distance(above, 3.0 - above);
        // Its top and its outermost point, far from the wall.
        assert_relative_eq!(at(3.0, 6.0), 0.0, epsilon = 1e-6);
        assert!((-0.6..0.0).contains(&at(0.0, 3.0)), "{}", at(0.0, 3.0));
        assert_relative_eq!(at(3.0, 8.0), 2.0, epsilon = 1e-6);
        // Away from the edge the wall is as it was.
        assert_relative_eq!(at(20.0, 3.0), 0.0);
        // An opening goes through it.
        let opened = Wall { opening_mm: -1.0, ..wall(3.0) };
        assert!(opened.signed_distance(3.0, 0.0) > 0.0);
    }
}
