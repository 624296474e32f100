//! Flat shapes, drawn in the chart of a piece of skin.

/// A flat shape in chart coordinates, mm.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A disc.
    Circle {
        /// Middle.
        centre: [f32; 2],
        /// Radius.
        radius: f32,
    },
    /// All points nearer than `radius` to the segment: a slot with round ends.
    Slot {
        /// One end of the middle line.
        from: [f32; 2],
        /// The other end.
        to: [f32; 2],
        /// Half the width.
        radius: f32,
    },
    /// A box with rounded corners.
    RoundedBox {
        /// Middle.
        centre: [f32; 2],
        /// Unit direction of the first side.
        direction: [f32; 2],
        /// Half the length of each side.
        half: [f32; 2],
        /// Corner radius, at most the smaller half side.
        round: f32,
    },
    /// A convex polygon, counter-clockwise, offset by `round`: corners become arcs.
    RoundedPolygon {
        /// Corners of the polygon before the offset.
        corners: Vec<[f32; 2]>,
        /// How far it is offset.
        round: f32,
    },
    /// A drawing as signed distances on a square grid, such as text.
    Drawing {
        /// Chart coordinates of the first sample.
        origin: [f32; 2],
        /// Distance between samples.
        step: f32,
        /// Samples in a row.
        width: usize,
        /// Signed distances, negative inside, row by row upwards.
        distance: Vec<f32>,
    },
}

impl Shape {
    /// Distance from `p` to the outline, negative inside. Exact but for drawings, which are interpolated.
    #[must_use]
    pub fn signed_distance(&self, p: [f32; 2]) -> f32 {
        match self {
            Self::Circle { centre, radius } => length(sub(p, *centre)) - radius,
            Self::Slot { from, to, radius } => {
                let (d, q) = (sub(*to, *from), sub(p, *from));
                let t = (dot(d, q) / dot(d, d).max(f32::MIN_POSITIVE)).clamp(0.0, 1.0);
                length([q[0] - d[0] * t, q[1] - d[1] * t]) - radius
            }
            Self::RoundedBox { centre, direction, half, round } => {
                let q = sub(p, *centre);
                let x = dot(q, *direction).abs() - (half[0] - round);
                let y = (direction[0] * q[1] - direction[1] * q[0]).abs() - (half[1] - round);
                length([x.max(0.0), y.max(0.0)]) + x.max(y).min(0.0) - round
            }
            Self::RoundedPolygon { corners, round } => polygon_distance(corners, p) - round,
            Self::Drawing { origin, step, width, distance } => {
                let height = distance.len() / width;
                let x = ((p[0] - origin[0]) / step).clamp(0.0, (width - 1) as f32);
                let y = ((p[1] - origin[1]) / step).clamp(0.0, (height - 1) as f32);
                let (i, j) = ((x as usize).min(width - 2), (y as usize).min(height - 2));
                let (fx, fy) = (x - i as f32, y - j as f32);
                let at = |i: usize, j: usize| distance[j * width + i];
                let low = at(i, j) * (1.0 - fx) + at(i + 1, j) * fx;
                let high = at(i, j + 1) * (1.0 - fx) + at(i + 1, j + 1) * fx;
                let inside = low * (1.0 - fy) + high * fy;
                // Beyond the grid the distance to the grid is added, so that far points stay outside.
                let out = [p[0] - origin[0] - x * step, p[1] - origin[1] - y * step];
                inside + length(out)
            }
        }
    }

    /// Points of the outline, at most `spacing` apart; for drawings where the outline crosses the grid.
    #[must_use]
    pub fn outline(&self, spacing: f32) -> Vec<[f32; 2]> {
        match self {
            Self::Circle { centre, radius } => offset_outline(&[*centre], *radius, spacing),
            Self::Slot { from, to, radius } => offset_outline(&[*from, *to], *radius, spacing),
            Self::RoundedBox { centre, direction: [dx, dy], half, round } => {
                let (x, y) = (half[0] - round, half[1] - round);
                let at = |x: f32, y: f32| [centre[0] + dx * x - dy * y, centre[1] + dy * x + dx * y];
                offset_outline(&[at(-x, -y), at(x, -y), at(x, y), at(-x, y)], *round, spacing)
            }
            Self::RoundedPolygon { corners, round } => offset_outline(corners, *round, spacing),
            Self::Drawing { origin, step, width, distance } => crossings(*origin, *step, *width, distance),
        }
    }

    /// Radius of a disc round the chart's origin that holds the whole shape.
    #[must_use]
    pub fn reach(&self) -> f32 {
        match self {
            Self::Circle { centre, radius } => length(*centre) + radius,
            Self::Slot { from, to, radius } => length(*from).max(length(*to)) + radius,
            Self::RoundedBox { centre, half, .. } => length(*centre) + length(*half),
            Self::RoundedPolygon { corners, round } => corners.iter().map(|c| length(*c)).fold(0.0, f32::max) + round,
            Self::Drawing { origin, step, width, distance } => {
                let far = [(width - 1) as f32 * step, (distance.len() / width - 1) as f32 * step];
                let end = [origin[0] + far[0], origin[1] + far[1]];
                length([origin[0].abs().max(end[0].abs()), origin[1].abs().max(end[1].abs())])
            }
        }
    }
}

/// Distance to a convex counter-clockwise polygon, negative inside.
fn polygon_distance(corners: &[[f32; 2]], p: [f32; 2]) -> f32 {
    let mut nearest2 = f32::INFINITY;
    let mut inside = true;
    for (i, a) in corners.iter().enumerate() {
        let b = corners[(i + 1) % corners.len()];
        let (d, q) = (sub(b, *a), sub(p, *a));
        let t = (dot(d, q) / dot(d, d).max(f32::MIN_POSITIVE)).clamp(0.0, 1.0);
        let r = [q[0] - d[0] * t, q[1] - d[1] * t];
        nearest2 = nearest2.min(dot(r, r));
        inside &= d[0] * q[1] - d[1] * q[0] >= 0.0;
    }
    if inside { -nearest2.sqrt() } else { nearest2.sqrt() }
}

/// Outline of a convex counter-clockwise polygon offset by `round`: its sides moved out, and arcs between them. Of two
/// corners it is a slot, of one a circle. Points are at most `spacing` apart, and 30 degrees on an arc; the ends of
/// each side and arc are among them.
pub(crate) fn offset_outline(corners: &[[f32; 2]], round: f32, spacing: f32) -> Vec<[f32; 2]> {
    const STEPS_A_TURN: f32 = 12.0;
    let count = corners.len();
    let bearing = |i: usize| {
        let d = sub(corners[(i + 1) % count], corners[i]);
        d[1].atan2(d[0]) - std::f32::consts::FRAC_PI_2
    };
    let mut points = Vec::new();
    for (i, corner) in corners.iter().enumerate() {
        let (from, to) = (bearing((i + count - 1) % count), bearing(i));
        let mut turn = to - from;
        while turn < 0.0 || (count == 1 && turn < 1.0) {
            turn += std::f32::consts::TAU;
        }
        let least = if round > 0.0 { STEPS_A_TURN * turn / std::f32::consts::TAU } else { 0.0 };
        let steps = ((turn * round / spacing).max(least).ceil() as usize).clamp(1, 10_000);
        for k in 0..=steps {
            let (sin, cos) = (from + turn * k as f32 / steps as f32).sin_cos();
            points.push([corner[0] + round * cos, corner[1] + round * sin]);
        }
        let next = corners[(i + 1) % count];
        let (sin, cos) = to.sin_cos();
        let steps = ((length(sub(next, *corner)) / spacing).ceil() as usize).min(10_000);
        for k in 1..steps {
            let t = k as f32 / steps as f32;
            points.push([
                corner[0] + (next[0] - corner[0]) * t + round * cos,
                corner[1] + (next[1] - corner[1]) * t + round * sin,
            ]);
        }
    }
    points
}

/// Where the sign changes between neighbouring samples.
fn crossings(origin: [f32; 2], step: f32, width: usize, distance: &[f32]) -> Vec<[f32; 2]> {
    let mut points = Vec::new();
    for (at, a) in distance.iter().enumerate() {
        let (i, j) = ((at % width) as f32, (at / width) as f32);
        let right = (at % width + 1 < width).then(|| distance[at + 1]);
        for (b, along) in [(right, [1.0, 0.0]), (distance.get(at + width).copied(), [0.0, 1.0])] {
            if let Some(b) = b
                && (*a < 0.0) != (b < 0.0)
            {
                let t = a / (a - b);
                points.push([origin[0] + (i + along[0] * t) * step, origin[1] + (j + along[1] * t) * step]);
            }
        }
    }
    points
}

fn sub(a: [f32; 2], b: [f32; 2]) -> [f32; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

fn dot(a: [f32; 2], b: [f32; 2]) -> f32 {
    a[0] * b[0] + a[1] * b[1]
}

fn length(a: [f32; 2]) -> f32 {
    dot(a, a).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn boxes_and_slots_measure_true_distances() {
        let square = Shape::RoundedBox { centre: [1.0, 2.0], direction: [0.0, 1.0], half: [3.0, 2.0], round: 0.5 };
        // The first side runs along y: 3 up and 2 across.
        assert_relative_eq!(square.signed_distance([1.0, 6.0]), 1.0);
        assert_relative_eq!(square.signed_distance([4.0, 2.0]), 1.0);
        assert_relative_eq!(square.signed_distance([1.0, 2.0]), -2.0);
        let slot = Shape::Slot { from: [0.0, 0.0], to: [4.0, 0.0], radius: 1.0 };
        assert_relative_eq!(slot.signed_distance([7.0, 4.0]), 4.0);
        assert_relative_eq!(slot.reach(), 5.0);
    }

    #[test]
    fn outlines_lie_where_the_distance_is_zero_and_go_all_round() {
        let shapes = [
            Shape::Circle { centre: [1.0, -2.0], radius: 3.0 },
            Shape::Slot { from: [-3.0, 1.0], to: [4.0, 2.0], radius: 1.5 },
            Shape::RoundedBox { centre: [1.0, 2.0], direction: [0.6, 0.8], half: [6.0, 3.0], round: 1.0 },
            Shape::RoundedPolygon { corners: vec![[0., 0.], [4., 0.], [0., 3.]], round: 1.0 },
        ];
        for shape in shapes {
            let outline = shape.outline(0.5);
            for (i, p) in outline.iter().enumerate() {
                assert!(shape.signed_distance(*p).abs() < 1e-5, "{shape:?} at {p:?}");
                assert!(length(sub(*p, outline[(i + 1) % outline.len()])) < 0.51, "{shape:?} at {p:?}");
            }
            // Shoelace area against the sum of the signed distance's inside on a fine grid.
            let area: f32 = outline
                .iter()
                .enumerate()
                .map(|(i, a)| {
                    let b = outline[(i + 1) % outline.len()];
                    0.5 * (a[0] * b[1] - a[1] * b[0])
                })
                .sum();
            let inside =
                |i: i32| shape.signed_distance([(i % 400) as f32 * 0.05 - 10.0, (i / 400) as f32 * 0.05 - 10.0]);
            let counted = (0..160_000).filter(|i| inside(*i) < 0.0).count() as f32 * 0.0025;
            assert!((area / counted - 1.0).abs() < 0.02, "{shape:?}: {area} mm², counted {counted}");
        }
    }

    #[test]
    fn a_grown_triangle_has_round_corners() {
        let shape = Shape::RoundedPolygon { corners: vec![[0., 0.], [4., 0.], [0., 3.]], round: 1.0 };
        assert_relative_eq!(shape.signed_distance([-3.0, -4.0]), 4.0);
        assert_relative_eq!(shape.signed_distance([1.0, 1.0]), -2.0);
    }
}
