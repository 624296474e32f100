//! Bending and transverse shear of a flat triangle: the discrete Kirchhoff–Mindlin triangle (Katili 1993, "A new discrete
//! Kirchhoff–Mindlin element based on Mindlin–Reissner plate theory and assumed shear strain fields, part I", Int. J. Numer.
//! Methods Eng. 36, 1859–1883). Where the wall is thin it is the discrete Kirchhoff triangle (Batoz, Bathe and Ho 1980).

use nalgebra::{Matrix2, Matrix3, SMatrix, SVector};

use super::{Corners, Nine, Section, twice_area};

/// Something with three parts by the deflection and the two rotations of each corner.
pub(super) type ByNine = SMatrix<f64, 3, 9>;
/// Something with two parts by them.
type TwoByNine = SMatrix<f64, 2, 9>;
type Row = SMatrix<f64, 1, 9>;

/// Middles of the sides in area coordinates of the three corners: sums over them are exact for products of what is linear.
const MIDDLES: [[f64; 3]; 3] = [[0.5, 0.5, 0.0], [0.0, 0.5, 0.5], [0.5, 0.0, 0.5]];

/// A side, from one corner to the next.
struct Side {
    /// Its direction.
    cosine: f64,
    sine: f64,
    /// By how much the rotation along it is larger in its middle than the mean of its ends.
    more: Row,
    /// The shear along it.
    shear: Row,
}

/// A triangle with the wall's compliances in shear told against those in bending.
pub(super) struct Bending {
    sides: [Side; 3],
    /// Derivatives of the area coordinates.
    by_x: SVector<f64, 3>,
    by_y: SVector<f64, 3>,
    area: f64,
}

impl Bending {
    pub(super) fn new(corners: &Corners, section: &Section) -> Self {
        let area2 = twice_area(corners);
        let opposite = [0, 1, 2].map(|i| corners[(i + 2) % 3] - corners[(i + 1) % 3]);
        // About its own neutral surface.
        let own = section
            .membrane
            .try_inverse()
            .map_or(section.bending, |inverse| section.bending - section.coupling * inverse * section.coupling);
        let twelfth = 12.0 * own[(0, 0)] / section.shear;
        let sides = [0, 1, 2].map(|i| {
            let j = (i + 1) % 3;
            let way = corners[j] - corners[i];
            let length = way.norm();
            let (cosine, sine) = (way.x / length, way.y / length);
            let softer = twelfth / (length * length);
            // The shear along the side is that of the deflection less that of the rotations.
            let mut more = Row::zeros();
            for (corner, sign) in [(i, -1.0), (j, 1.0)] {
                more[3 * corner] = sign / length;
                // The rotation along x is that about y, and along y less that about x.
                more[3 * corner + 1] = -0.5 * sine;
                more[3 * corner + 2] = 0.5 * cosine;
            }
            more *= -1.5 / (1.0 + softer);
            let shear = more * (-2.0 / 3.0 * softer);
            Side { cosine, sine, more, shear }
        });
        Self {
            sides,
            by_x: SVector::from_fn(|i, _| -opposite[i].y / area2),
            by_y: SVector::from_fn(|i, _| opposite[i].x / area2),
            area: 0.5 * area2,
        }
    }

    /// Curvatures xx, yy and xy, the twist counted twice, at a place in area coordinates. One is positive where the upper face
    /// is stretched.
    pub(super) fn curvatures(&self, at: &[f64; 3]) -> ByNine {
        let mut all = ByNine::zeros();
        for i in 0..3 {
            let (x, y) = (self.by_x[i], self.by_y[i]);
            all[(0, 3 * i + 2)] = x;
            all[(1, 3 * i + 1)] = -y;
            all[(2, 3 * i + 2)] = y;
            all[(2, 3 * i + 1)] = -x;
        }
        for (i, side) in self.sides.iter().enumerate() {
            let j = (i + 1) % 3;
            // Derivatives of four times the product of the area coordinates of its ends.
            let x = 4.0 * (at[i] * self.by_x[j] + at[j] * self.by_x[i]);
            let y = 4.0 * (at[i] * self.by_y[j] + at[j] * self.by_y[i]);
            let share = SVector::<f64, 3>::new(x * side.cosine, y * side.sine, y * side.cosine + x * side.sine);
            all += share * side.more;
        }
        all
    }

    /// Shear strains xz and yz at a place: at each corner those that its two sides have along them, and linear in between.
    fn shears(&self, at: &[f64; 3]) -> TwoByNine {
        let mut all = TwoByNine::zeros();
        for (i, share) in at.iter().enumerate() {
            let (after, before) = (&self.sides[i], &self.sides[(i + 2) % 3]);
            let directions = Matrix2::new(after.cosine, after.sine, before.cosine, before.sine);
            if let Some(inverse) = directions.try_inverse() {
                all += inverse * TwoByNine::from_rows(&[after.shear, before.shear]) * *share;
            }
        }
        all
    }

    /// The stiffness by the deflection and the two rotations of each corner.
    pub(super) fn stiffness(&self, bending: &Matrix3<f64>, shear: f64) -> Nine {
        MIDDLES.iter().fold(Nine::zeros(), |sum, at| {
            let (bent, sheared) = (self.curvatures(at), self.shears(at));
            sum + (bent.transpose() * bending * bent + sheared.transpose() * sheared * shear) * (self.area / 3.0)
        })
    }

    /// The mean of the curvatures over the triangle.
    pub(super) fn mean_curvatures(&self) -> ByNine {
        self.curvatures(&[1.0 / 3.0; 3])
    }
}
