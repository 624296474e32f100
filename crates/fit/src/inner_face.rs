//! The face of a shell that looks at the skin, and how a value is spread over it.

use mesh::Mesh;

/// The triangles of a shell that look at the skin, with the area of each.
///
/// A triangle looks at the skin when its normal is within 60° of the direction from its middle to the nearest skin.
/// Walls of vents and of the rim stand across that direction, and the outer face looks against it, so neither counts.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct InnerFace {
    /// Triangle numbers, in rising order.
    pub triangles: Vec<u32>,
    /// Area of each of them, mm².
    pub areas_mm2: Vec<f64>,
    /// Their sum, mm².
    pub area_mm2: f64,
}

impl InnerFace {
    /// Of triangles chosen by `looks`.
    pub(crate) fn new(mesh: &Mesh, looks: &[bool]) -> Self {
        let triangles: Vec<u32> = (0..mesh.triangles.len() as u32).filter(|t| looks[*t as usize]).collect();
        let areas_mm2: Vec<f64> = triangles.iter().map(|t| 0.5 * mesh.cross(*t as usize).norm()).collect();
        let area_mm2 = areas_mm2.iter().sum();
        Self { triangles, areas_mm2, area_mm2 }
    }

    /// Values of the corners of each triangle, lowest first, with its area.
    pub(crate) fn spread(&self, mesh: &Mesh, values: &[f32]) -> Spread {
        let corners = self.triangles.iter().map(|t| {
            let mut v = mesh.triangles[*t as usize].map(|v| f64::from(values[v as usize]));
            v.sort_by(f64::total_cmp);
            v
        });
        Spread { triangles: corners.zip(self.areas_mm2.iter().copied()).collect(), area: self.area_mm2 }
    }
}

/// Quantiles are found within this, mm.
const QUANTILE_MM: f64 = 5e-4;
/// Most halvings on the way there: beyond 10¹² mm neighbouring numbers lie farther apart than [`QUANTILE_MM`].
const MOST_HALVINGS: usize = 64;

/// How a value that is linear over each triangle is spread over their area.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Spread {
    triangles: Vec<([f64; 3], f64)>,
    area: f64,
}

impl Spread {
    /// Share of the area, 0 to 1, where the value is below `limit`; 0 without area.
    pub(crate) fn below(&self, limit: f64) -> f64 {
        let sum: f64 = self.triangles.iter().map(|(v, area)| area * share_below(v, limit)).sum();
        if self.area > 0.0 { sum / self.area } else { 0.0 }
    }

    /// Lowest and highest value; `None` without triangles.
    pub(crate) fn range(&self) -> Option<(f64, f64)> {
        let first = self.triangles.first()?;
        let start = (first.0[0], first.0[2]);
        Some(self.triangles.iter().fold(start, |(lo, hi), (v, _)| (lo.min(v[0]), hi.max(v[2]))))
    }

    /// The value that `share` of the area lies below.
    pub(crate) fn quantile(&self, share: f64) -> Option<f64> {
        let (mut lo, mut hi) = self.range()?;
        for _ in 0..MOST_HALVINGS {
            if hi - lo <= QUANTILE_MM {
                break;
            }
            let middle = 0.5 * (lo + hi);
            if self.below(middle) < share {
                lo = middle;
            } else {
                hi = middle;
            }
        }
        Some(0.5 * (lo + hi))
    }
}

/// Share of a triangle where a linear value with these corner values, lowest first, is below `limit`: what the line of
/// that value cuts off at the lowest corner, or all but what it cuts off at the highest.
fn share_below([a, b, c]: &[f64; 3], limit: f64) -> f64 {
    if limit <= *a {
        0.0
    } else if limit > *c {
        1.0
    } else if limit <= *b {
        (limit - a).powi(2) / ((b - a) * (c - a))
    } else {
        1.0 - (c - limit).powi(2) / ((c - a) * (c - b))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_line_of_equal_value_cuts_the_share_that_geometry_says() {
        // Corner values 0, 1, 2: below 1 lies one half, below 0.5 the quarter of that half.
        assert_relative_eq!(share_below(&[0.0, 1.0, 2.0], 1.0), 0.5);
        assert_relative_eq!(share_below(&[0.0, 1.0, 2.0], 0.5), 0.125);
        assert_relative_eq!(share_below(&[0.0, 1.0, 2.0], 1.5), 0.875);
        // Two equal corners: similar triangles.
        assert_relative_eq!(share_below(&[0.0, 0.0, 3.0], 1.0), 1.0 - (2.0_f64 / 3.0).powi(2));
        assert_relative_eq!(share_below(&[0.0, 3.0, 3.0], 1.0), 1.0 / 9.0);
        // One value everywhere is below what is higher and not below itself.
        assert_relative_eq!(share_below(&[2.0; 3], 2.0), 0.0);
        assert_relative_eq!(share_below(&[2.0; 3], 2.1), 1.0);
    }
}
