//! Whether a part fits the printer: straight, turned, or on one of its flat sides.

use mesh::Mesh;
use nalgebra::{Matrix3, Vector3};

use crate::hull::Hull;

/// Step between the turns that are tried, degrees.
const STEP_DEG: f64 = 0.5;

/// How a part lies on a bed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnBed {
    /// Best turn about the upright axis, degrees: 0 where it fits as it is, else 90 where it fits so, else the turn
    /// with the most room, 0 to 180.
    pub turn_deg: f64,
    /// Room left in the tighter of width and depth, mm; negative where it does not fit.
    pub room_mm: f64,
    /// Width and depth of the part so turned, mm.
    pub size_mm: [f64; 2],
    /// Room above the part, mm; negative where it is too high.
    pub height_room_mm: f64,
    /// Where it does not fit as it stands, but does when laid on one of its flat sides: its width, depth and height
    /// there, mm.
    pub on_side_mm: Option<[f64; 3]>,
}

impl OnBed {
    /// Whether it fits as it stands, or turned about the upright axis.
    #[must_use]
    pub fn fits(&self) -> bool {
        self.room_mm >= 0.0 && self.height_room_mm >= 0.0
    }
}

/// Places a part in a printer with room of this width, depth and height, mm. None for a part without points.
///
/// It is turned about the upright axis; only where it fits in no turn is it laid on its flat sides, the largest first.
#[must_use]
pub fn lay(part: &Mesh, bed_mm: [f32; 3]) -> Option<OnBed> {
    let hull = Hull::of(part)?;
    let mut laid = turned(&hull.points, bed_mm);
    if !laid.fits() {
        laid.on_side_mm = hull.sides().into_iter().find_map(|down| {
            let axes = standing_on(&down);
            let points: Vec<Vector3<f64>> = hull.points.iter().map(|p| axes * p).collect();
            let so = Some(turned(&points, bed_mm)).filter(OnBed::fits)?;
            Some([so.size_mm[0], so.size_mm[1], f64::from(bed_mm[2]) - so.height_room_mm])
        });
    }
    Some(laid)
}

/// Axes in which `down` points straight down.
fn standing_on(down: &Vector3<f64>) -> Matrix3<f64> {
    let mut aside = Vector3::zeros();
    aside[down.iamin()] = 1.0;
    let x = down.cross(&aside).normalize();
    Matrix3::from_rows(&[x.transpose(), x.cross(down).transpose(), -down.transpose()])
}

/// Places points in the best turn about the upright axis.
fn turned(points: &[Vector3<f64>], bed_mm: [f32; 3]) -> OnBed {
    let extent = |along: Vector3<f64>| {
        let heights = points.iter().map(|p| p.dot(&along));
        let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)));
        high - low
    };
    let [width, depth, height] = bed_mm.map(f64::from);
    let height_room_mm = height - extent(Vector3::z());
    let at = |turn_deg: f64| {
        let (sin, cos) = if turn_deg == 90.0 { (1.0, 0.0) } else { turn_deg.to_radians().sin_cos() };
        let size_mm = [extent(Vector3::new(cos, -sin, 0.0)), extent(Vector3::new(sin, cos, 0.0))];
        let room_mm = (width - size_mm[0]).min(depth - size_mm[1]);
        OnBed { turn_deg, room_mm, size_mm, height_room_mm, on_side_mm: None }
    };
    let straight = at(0.0);
    if straight.room_mm >= 0.0 {
        return straight;
    }
    let quarter = at(90.0);
    if quarter.room_mm >= 0.0 {
        return quarter;
    }
    let turns = (1..360).map(|step| at(f64::from(step) * STEP_DEG));
    turns.fold(straight, |best, other| if other.room_mm > best.room_mm { other } else { best })
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    /// A flat bar of sides `x` and `y` round the origin, with points inside that a hull must leave out.
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
        // Its points are at heights from 0.2 to 1.
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

    #[test]
    fn a_plank_that_stands_aslant_fits_on_the_side_on_which_it_is_as_large_as_its_own_edges() {
        let [length, depth, width] = [240.0, 60.0, 120.0];
        let turn = nalgebra::Rotation3::from_euler_angles(0.7, -0.4, 1.1);
        let aslant = |[x, y, z]: [f32; 3]| (turn * nalgebra::Vector3::new(x, y, z)).into();
        let plank: Mesh = test_shapes::cuboid([length, depth, width]).mapped(aslant).build();
        // A step between turns can cost 240 · sin 0.25° = 1.05 mm each way.
        let laid = lay(&plank, [242.0, 122.0, 60.1]).unwrap();
        let [x, y, z] = laid.on_side_mm.unwrap();
        assert!(!laid.fits() && (z - 60.0).abs() < 1e-3, "{laid:?}");
        assert!((x - 240.0).abs() < 1.1 && (y - 120.0).abs() < 2.1, "{laid:?}");
        assert_eq!(lay(&plank, [242.0, 122.0, 59.9]).unwrap().on_side_mm, None, "too thick for that");
        // On its second largest side, 240 × 60 mm, it is 120 mm high.
        let [.., z] = lay(&plank, [242.0, 62.0, 120.1]).unwrap().on_side_mm.unwrap();
        assert!((z - 120.0).abs() < 1e-3, "{z}");
        assert_eq!(lay(&plank, [280.0, 280.0, 280.0]).unwrap().on_side_mm, None, "it fits as it stands");
    }
}
