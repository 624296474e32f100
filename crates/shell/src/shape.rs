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
    /// A convex polygon, counter-clockwise, grown by `round`: corners become arcs.
    RoundedPolygon {
        /// Corners of the polygon before it is grown.
        corners: Vec<[f32; 2]>,
        /// How far it is grown.
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
    fn a_grown_triangle_has_round_corners() {
        let shape = Shape::RoundedPolygon { corners: vec![[0., 0.], [4., 0.], [0., 3.]], round: 1.0 };
        assert_relative_eq!(shape.signed_distance([-3.0, -4.0]), 4.0);
        assert_relative_eq!(shape.signed_distance([1.0, 1.0]), -2.0);
    }
}
