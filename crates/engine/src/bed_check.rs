//! Whether a guard fits the printer.

use mesh::Mesh;
use serde::Serialize;

/// Whether and how a guard fits a printer.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, thiserror::Error)]
#[serde(rename_all = "kebab-case", tag = "bed")]
pub enum BedCheck {
    /// Nobody has said how large the bed is.
    #[error("not checked, as the size of the printer's bed is not known")]
    NotChecked,
    /// It fits as it stands.
    #[error("fits the bed of {} as it stands", size(bed_mm))]
    Fits {
        /// Width, depth and height of the room in the printer, mm.
        bed_mm: [f32; 3],
    },
    /// It fits when it is turned about the upright axis.
    #[error("fits the bed of {} when turned by {turn_deg:.0}° about the upright axis", size(bed_mm))]
    FitsTurned {
        /// Width, depth and height of the room in the printer, mm.
        bed_mm: [f32; 3],
        /// How far to turn it, degrees.
        turn_deg: f64,
    },
    /// It does not fit as it stands, but laid on a flat side it does.
    #[error("fits the bed of {} when laid on its side, where it takes {:.0} × {:.0} × {:.0} mm", size(bed_mm), size_mm[0], size_mm[1], size_mm[2])]
    FitsOnSide {
        /// Width, depth and height of the room in the printer, mm.
        bed_mm: [f32; 3],
        /// Width, depth and height of the guard so laid, mm.
        size_mm: [f64; 3],
    },
    /// It does not fit, however it is turned about the upright axis, nor on any of its sides.
    #[error("does not fit the bed of {}: it is {}, and it does not fit on any of its sides. Use a larger printer.", size(bed_mm), missing(*missing_mm, *too_high_mm))]
    TooLarge {
        /// Width, depth and height of the room in the printer, mm.
        bed_mm: [f32; 3],
        /// How much it is too wide or too deep, mm; 0 where it is neither.
        missing_mm: f64,
        /// How much it is too high, mm; 0 where it is not.
        too_high_mm: f64,
    },
}

fn size([width, depth, height]: &[f32; 3]) -> String {
    format!("{width:.0} × {depth:.0} × {height:.0} mm")
}

fn missing(missing_mm: f64, too_high_mm: f64) -> String {
    match (missing_mm > 0.0, too_high_mm > 0.0) {
        (true, true) => format!("{missing_mm:.1} mm too wide or too deep and {too_high_mm:.1} mm too high"),
        (false, true) => format!("{too_high_mm:.1} mm too high"),
        _ => format!("{missing_mm:.1} mm too wide or too deep"),
    }
}

/// Checks a part against a printer's room: width, depth and height, mm.
#[must_use]
pub fn bed_check(part: &Mesh, bed_mm: Option<[f32; 3]>) -> BedCheck {
    let Some(bed_mm) = bed_mm else { return BedCheck::NotChecked };
    let Some(laid) = print::bed::lay(part, bed_mm) else { return BedCheck::NotChecked };
    if !laid.fits() {
        if let Some(size_mm) = laid.on_side_mm {
            return BedCheck::FitsOnSide { bed_mm, size_mm };
        }
        let [missing_mm, too_high_mm] = [laid.room_mm, laid.height_room_mm].map(|room| (-room).max(0.0));
        return BedCheck::TooLarge { bed_mm, missing_mm, too_high_mm };
    }
    if laid.turn_deg == 0.0 {
        return BedCheck::Fits { bed_mm };
    }
    BedCheck::FitsTurned { bed_mm, turn_deg: laid.turn_deg }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    /// A tetrahedron whose box has these sides.
    fn part(x: f32, y: f32, z: f32) -> Mesh {
        let points = [[0.0, 0.0, 0.0], [x, 0.0, 0.0], [0.0, y, 0.0], [0.0, 0.0, z]].map(Point3::from).to_vec();
        Mesh::new(points, vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])
    }

    #[test]
    fn a_part_is_checked_to_the_side_and_in_height_and_never_against_a_bed_that_nobody_named() {
        let bed = Some([200.0, 150.0, 180.0]);
        assert_eq!(bed_check(&part(10.0, 10.0, 900.0), None), BedCheck::NotChecked);
        assert!(matches!(bed_check(&part(190.0, 140.0, 180.0), bed), BedCheck::Fits { .. }));
        assert!(
            matches!(bed_check(&part(140.0, 190.0, 90.0), bed), BedCheck::FitsTurned { turn_deg, .. } if turn_deg == 90.0)
        );
        let high = bed_check(&part(145.0, 145.0, 190.5), Some([150.0, 150.0, 180.0]));
        assert!(high.to_string().contains(": it is 10.5 mm too high, and it does not fit"), "{high}");
        // Lying on the side of 100 by 190 mm it is 100 mm high.
        let on_side = bed_check(&part(100.0, 100.0, 190.5), bed);
        assert!(matches!(on_side, BedCheck::FitsOnSide { .. }), "{on_side}");
        let both = bed_check(&part(400.0, 400.0, 200.0), bed);
        assert!(both.to_string().contains(" mm too wide or too deep and 20.0 mm too high"), "{both}");
    }
}
