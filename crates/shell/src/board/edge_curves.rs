//! How the upper and the lower edge of a zone bend, so that rows can bend with them.

use nalgebra::Point2;

/// The middle part of each edge that is looked at, as a share of the half width.
const MIDDLE: f64 = 0.75;
/// Rows bend by this share of what the edges do: they follow, and cells stay regular.
const FOLLOW: f64 = 0.7;
/// Steepest slope of a row.
const STEEPEST: f64 = 0.2;
/// Columns into which the width is cut.
const COLUMNS: usize = 48;

/// Two parabolas about the middle line: `y = height − bend x²`.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct EdgeCurves {
    low: f64,
    high: f64,
    /// Bend of the rows at the lower and the upper edge, 1/mm; positive is lower at the sides.
    bend: [f64; 2],
}

impl EdgeCurves {
    /// From the pieces of the edge on the board.
    pub fn of(pieces: &[[Point2<f64>; 2]]) -> Self {
        let half = pieces.iter().flatten().map(|p| p.x.abs()).fold(0.0, f64::max);
        if half <= 0.0 {
            return Self::default();
        }
        let wide = MIDDLE * half;
        let mut columns = [[f64::INFINITY, f64::NEG_INFINITY]; COLUMNS];
        for p in pieces.iter().flatten().filter(|p| p.x.abs() < wide) {
            let column = ((p.x / wide + 1.0) * 0.5 * COLUMNS as f64) as usize;
            let [low, high] = &mut columns[column.min(COLUMNS - 1)];
            (*low, *high) = (low.min(p.y), high.max(p.y));
        }
        let edge = |k: usize| {
            let x2 = |i: usize| ((2.0 * (i as f64 + 0.5) / COLUMNS as f64 - 1.0) * wide).powi(2);
            let all: Vec<[f64; 2]> =
                (0..COLUMNS).filter(|i| columns[*i][k].is_finite()).map(|i| [x2(i), columns[i][k]]).collect();
            parabola(&all, STEEPEST / (2.0 * half * FOLLOW))
        };
        let [(low, below), (high, above)] = [edge(0), edge(1)];
        Self { low, high, bend: [below, above].map(|bend| bend * FOLLOW) }
    }

    /// A place of straight rows, moved to where it lies when rows bend.
    pub fn bent(&self, place: Point2<f64>) -> Point2<f64> {
        let up = ((place.y - self.low) / (self.high - self.low).max(1e-6)).clamp(0.0, 1.0);
        let bend = self.bend[0] * (1.0 - up) + self.bend[1] * up;
        Point2::new(place.x, place.y - bend * place.x * place.x)
    }
}

/// Height and bend of the parabola that fits best to pairs of x² and y, its bend at most `most` either way.
fn parabola(pairs: &[[f64; 2]], most: f64) -> (f64, f64) {
    let count = pairs.len().max(1) as f64;
    let [x, y] = [0, 1].map(|k| pairs.iter().map(|p| p[k]).sum::<f64>() / count);
    let (xx, xy) = pairs.iter().fold((0.0, 0.0), |(xx, xy), p| (xx + (p[0] - x).powi(2), xy + (p[0] - x) * (p[1] - y)));
    let bend = if xx > 0.0 { (-xy / xx).clamp(-most, most) } else { 0.0 };
    (y + bend * x, bend)
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    #[test]
    fn rows_follow_a_round_upper_edge_and_a_straight_lower_one() {
        // Half the width is 40 mm; the upper edge is a circle of 200 mm.
        let upper = |x: f64| Point2::new(x, 50.0 - 200.0 + (200.0_f64.powi(2) - x * x).sqrt());
        let pieces: Vec<[Point2<f64>; 2]> = (-40..40)
            .flat_map(|i| {
                let [a, b] = [f64::from(i), f64::from(i + 1)];
                [[upper(a), upper(b)], [Point2::new(a, -50.0), Point2::new(b, -50.0)]]
            })
            .collect();
        let curves = EdgeCurves::of(&pieces);
        // A circle of radius r is near to y = −x² / 2r.
        let drop = FOLLOW * 30.0 * 30.0 / 400.0;
        assert_relative_eq!(curves.bent(Point2::new(30.0, 50.0)).y, 50.0 - drop, epsilon = 0.03);
        assert_relative_eq!(curves.bent(Point2::new(-30.0, -50.0)).y, -50.0, epsilon = 1e-6);
        assert_relative_eq!(curves.bent(Point2::new(30.0, 0.0)).y, -0.5 * drop, epsilon = 0.03);
        assert_relative_eq!(curves.bent(Point2::new(0.0, 50.0)).y, 50.0);
    }

    #[test]
    fn rows_never_get_steep() {
        let pieces: Vec<[Point2<f64>; 2]> =
            (-40..40).map(|i| [i, i + 1].map(|x| Point2::new(f64::from(x), -f64::from(x * x) * 0.1))).collect();
        let curves = EdgeCurves::of(&pieces);
        let [a, b] = [39.0, 40.0].map(|x| curves.bent(Point2::new(x, 0.0)).y);
        assert!((a - b).abs() <= STEEPEST + 1e-9, "{}", a - b);
    }
}
