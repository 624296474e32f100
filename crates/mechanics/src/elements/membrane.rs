//! Stretching of a flat triangle in its plane, with a rotation about the normal at each corner: the optimal triangle of the
//! assumed natural deviatoric strain family (Felippa 2003, "A study of optimal membrane triangles with drilling freedoms",
//! Comput. Methods Appl. Mech. Eng. 192, 2125–2168).

use nalgebra::{Matrix3, SMatrix};

use super::{Corners, Nine, twice_area};

/// Strains xx, yy, xy by the two displacements and the rotation of each corner.
pub(super) type ByNine = SMatrix<f64, 3, 9>;

/// How much of the forces on a side the drilling rotations carry.
const LUMPED: f64 = 1.5;
/// The nine parameters by which the strains of the higher order depend on the rotations.
const BETA: [f64; 9] = [1.0, 2.0, 1.0, 0.0, 1.0, -1.0, -1.0, -1.0, -2.0];
/// The factor of the stiffness of the higher order, beside β₀: a strip one triangle pair wide, bent in its plane, is then as
/// stiff as a beam to some percent, the softer the more Poisson's ratio is.
const HIGHER: f64 = 0.75;
/// Least share of the stiffness of the higher order: at a Poisson's ratio of a half there would be none.
const LEAST_BETA0: f64 = 0.01;

/// The mean strain of the triangle.
pub(super) fn mean_strain(corners: &Corners) -> ByNine {
    let area = 0.5 * twice_area(corners);
    let mut all = ByNine::zeros();
    for i in 0..3 {
        let (next, last) = ((i + 1) % 3, (i + 2) % 3);
        // From the last corner to the next; and from this one to these.
        let across = corners[next] - corners[last];
        let (to_next, to_last) = (corners[next] - corners[i], corners[last] - corners[i]);
        let share = LUMPED / 6.0;
        let by_rotation = [
            share * across.y * (-to_last.y - to_next.y),
            share * -across.x * (to_last.x + to_next.x),
            2.0 * share * (to_next.x * to_next.y - to_last.x * to_last.y),
        ];
        let by_x = [across.y, 0.0, -across.x];
        let by_y = [0.0, -across.x, across.y];
        for k in 0..3 {
            all[(k, 3 * i)] = by_x[k] / (2.0 * area);
            all[(k, 3 * i + 1)] = by_y[k] / (2.0 * area);
            all[(k, 3 * i + 2)] = by_rotation[k] / (2.0 * area);
        }
    }
    all
}

/// The rotations of the corners beyond that of the triangle as a whole.
fn own_rotations(corners: &Corners) -> ByNine {
    let four_areas = 2.0 * twice_area(corners);
    let mut all = ByNine::zeros();
    for i in 0..3 {
        let back = corners[(i + 2) % 3] - corners[(i + 1) % 3];
        for row in 0..3 {
            all[(row, 3 * i)] = back.x / four_areas;
            all[(row, 3 * i + 1)] = back.y / four_areas;
        }
        all[(i, 3 * i + 2)] = 1.0;
    }
    all
}

/// Stiffness by the two displacements and the rotation of each corner, for a membrane stiffness in N/mm.
pub(super) fn stiffness(corners: &Corners, membrane: &Matrix3<f64>, poisson: f64) -> Nine {
    let area = 0.5 * twice_area(corners);
    let mean = mean_strain(corners);
    let basic = mean.transpose() * membrane * mean * area;

    // Strains along the sides 1 to 2, 2 to 3 and 3 to 1 by those along the axes.
    let sides = [0, 1, 2].map(|i| corners[(i + 1) % 3] - corners[i]);
    let length2 = sides.map(|side| side.norm_squared());
    let mut along_sides = Matrix3::zeros();
    for (i, side) in sides.iter().enumerate() {
        let row = [side.x * side.x, side.y * side.y, side.x * side.y].map(|part| part / length2[i]);
        row.into_iter().enumerate().for_each(|(k, part)| along_sides[(i, k)] = part);
    }
    let Some(from_sides) = along_sides.try_inverse() else { return basic };
    let natural = from_sides.transpose() * membrane * from_sides;
    // At each corner, the strains along the sides by the rotations: by turns the same nine parameters.
    let at_corner = [0, 1, 2].map(|corner: usize| {
        Matrix3::from_fn(|side, turn| {
            let (row, column) = ((side + 3 - corner) % 3, (turn + 3 - corner) % 3);
            2.0 * area / 3.0 * BETA[3 * row + column] / length2[side]
        })
    });
    let higher = (0..3).fold(Matrix3::zeros(), |sum, i| {
        let in_middle = (at_corner[i] + at_corner[(i + 1) % 3]) * 0.5;
        sum + in_middle.transpose() * natural * in_middle * area
    });
    let beta0 = (0.5 * (1.0 - 4.0 * poisson * poisson)).max(LEAST_BETA0);
    let turns = own_rotations(corners);
    basic + turns.transpose() * higher * turns * (HIGHER * beta0)
}
