//! Whether a part lies on the printer's bed, straight or turned.

use mesh::Mesh;

/// Step between the turns that are tried, degrees.
const STEP_DEG: f64 = 0.5;

/// How a part lies on a bed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnBed {
    /// Turn about the upright axis that lays it best, degrees: 0 where it fits as it is, 90 where it fits turned by a
    /// quarter, else the turn with the most room, 0 to 180.
    pub turn_deg: f64,
    /// Least room between the part and the bed's edge, both sides together, mm; negative where it does not fit.
    pub room_mm: f64,
    /// Width and depth of the part so turned, mm.
    pub size_mm: [f64; 2],
    /// Room above the part, mm; negative where it is too high.
    pub height_room_mm: f64,
}

impl OnBed {
    /// Whether it fits.
    #[must_use]
    pub fn fits(&self) -> bool {
        self.room_mm >= 0.0 && self.height_room_mm >= 0.0
    }
}

/// Lays a part in a printer with room of that width, depth and height in mm, turned about the upright axis only. None for a
/// part without points.
#[must_use]
pub fn lay(part: &Mesh, bed_mm: [f32; 3]) -> Option<OnBed> {
    let (low, high) = part.bounds()?;
    let height_room_mm = f64::from(bed_mm[2]) - f64::from(high.z - low.z);
    let hull = hull(part.points.iter().map(|p| [f64::from(p.x), f64::from(p.y)]).collect());
    let at = |turn_deg: f64| {
        let (sin, cos) = if turn_deg == 90.0 { (1.0, 0.0) } else { turn_deg.to_radians().sin_cos() };
        let extent = |along: [f64; 2]| {
            let heights = hull.iter().map(|p| p[0] * along[0] + p[1] * along[1]);
            let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)));
            high - low
        };
        let size_mm = [extent([cos, -sin]), extent([sin, cos])];
        let room_mm = (f64::from(bed_mm[0]) - size_mm[0]).min(f64::from(bed_mm[1]) - size_mm[1]);
        OnBed { turn_deg, room_mm, size_mm, height_room_mm }
    };
    if let Some(simple) = [0.0, 90.0].map(at).into_iter().find(|laid| laid.room_mm >= 0.0) {
        return Some(simple);
    }
    let turns = (0..360).map(|step| at(f64::from(step) * STEP_DEG));
    turns.reduce(|best, other| if other.room_mm > best.room_mm { other } else { best })
}

/// Corners of the convex hull (A. M. Andrew, "Another efficient algorithm for convex hulls in two dimensions", 1979).
fn hull(mut points: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    points.dedup();
    if points.len() < 3 {
        return points;
    }
    let half = |points: &mut dyn Iterator<Item = &[f64; 2]>| {
        let mut chain: Vec<[f64; 2]> = Vec::new();
        for p in points {
            while let [.., a, b] = chain[..] {
                if (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) > 0.0 {
                    break;
                }
                chain.pop();
            }
            chain.push(*p);
        }
        chain.pop();
        chain
    };
    let mut lower = half(&mut points.iter());
    lower.extend(half(&mut points.iter().rev()));
    lower
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    /// A flat bar of two sides round the origin, with points inside that a hull must leave out.
    fn bar(x: f32, y: f32) -> Mesh {
        let mut points = Vec::new();
        for share in [1.0, 0.5, 0.2] {
            for (i, j) in [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)] {
                points.push(Point3::new(i * x * share, j * y * share, share));
            }
        }
        Mesh::new(points, vec![[0, 1, 2], [0, 2, 3]])
    }

    #[test]
    fn it_stays_straight_where_it_fits_and_takes_a_quarter_turn_next() {
        let straight = lay(&bar(200.0, 50.0), [210.0, 60.0, 50.0]).unwrap();
        assert_eq!((straight.turn_deg, straight.size_mm, straight.room_mm), (0.0, [200.0, 50.0], 10.0));
        let quarter = lay(&bar(200.0, 50.0), [60.0, 210.0, 50.0]).unwrap();
        assert_eq!((quarter.turn_deg, quarter.size_mm), (90.0, [50.0, 200.0]));
        // Its points are from 0.2 to 1 high.
        let low = lay(&bar(200.0, 50.0), [210.0, 60.0, 0.5]).unwrap();
        assert!(!low.fits() && (low.height_room_mm + 0.3).abs() < 1e-6, "{low:?}");
        assert!(lay(&Mesh::default(), [100.0, 100.0, 50.0]).is_none());
    }

    #[test]
    fn a_long_bar_fits_a_square_bed_on_the_diagonal_as_long_as_length_and_width_add_up_to_its_diagonal() {
        // At 45° a bar takes (length + width) / √2 both ways.
        let longest = 256.0 * 2.0_f32.sqrt() - 20.0;
        let fits = lay(&bar(longest - 0.5, 20.0), [256.0, 256.0, 50.0]).unwrap();
        assert!(fits.fits() && (fits.turn_deg - 45.0).rem_euclid(90.0) < 1e-9, "{fits:?}");
        let too_long = lay(&bar(longest + 0.5, 20.0), [256.0, 256.0, 50.0]).unwrap();
        assert!(!too_long.fits());
        assert!((too_long.room_mm + 0.5 / 2.0_f64.sqrt()).abs() < 1e-3, "{too_long:?}");
    }
}
