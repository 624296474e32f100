//! One triangle in space: its axes, its stiffness, and the forces in it.

use nalgebra::{Matrix3, Point3, Rotation3, SMatrix, SVector, Vector3};

use super::bending::Bending;
use super::{Corners, Nine, OF_TRIANGLE, Section, UNKNOWNS, membrane};

/// A matrix for all unknowns of a triangle.
pub type Whole = SMatrix<f64, OF_TRIANGLE, OF_TRIANGLE>;
/// The unknowns of a triangle: those of its three nodes one after the other.
pub type Unknowns = SVector<f64, OF_TRIANGLE>;

/// Unknowns of a node that stretching takes part in: along the first and second axis, and about the normal.
const IN_PLANE: [usize; 3] = [0, 1, 5];
/// Those of bending: along the normal, and about the first and second axis.
const OUT_OF_PLANE: [usize; 3] = [2, 3, 4];

/// A triangle of a shell with axes of its own: the first along its first side, the third along its normal.
#[derive(Debug, Clone, Copy)]
pub struct Facet {
    corners: Corners,
    /// Turns vectors from space into the axes.
    axes: Rotation3<f64>,
}

/// How a triangle is stretched and bent, by its own axes: xx, yy, xy, the shear strain and the twist counted twice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strains {
    /// Of the surface of the nodes.
    pub membrane: Vector3<f64>,
    /// 1/mm; positive where the side that the normal points to is stretched.
    pub curvature: Vector3<f64>,
}

impl Strains {
    /// The strain so far over the surface of the nodes, mm.
    #[must_use]
    pub fn at(&self, over_mm: f64) -> Vector3<f64> {
        self.membrane + self.curvature * over_mm
    }

    /// Forces, N/mm, and moments, N, per millimetre of width.
    #[must_use]
    pub fn resultants(&self, section: &Section) -> [Vector3<f64>; 2] {
        [
            section.membrane * self.membrane + section.coupling * self.curvature,
            section.coupling * self.membrane + section.bending * self.curvature,
        ]
    }
}

impl Facet {
    /// The triangle with these corners, mm; `None` where it has no area.
    #[must_use]
    pub fn new([a, b, c]: [Point3<f64>; 3]) -> Option<Self> {
        let first = (b - a).try_normalize(f64::MIN_POSITIVE)?;
        let normal = (b - a).cross(&(c - a)).try_normalize(f64::MIN_POSITIVE)?;
        let rows = Matrix3::from_rows(&[first.transpose(), normal.cross(&first).transpose(), normal.transpose()]);
        let axes = Rotation3::from_matrix_unchecked(rows);
        let corners = [a, b, c].map(|p| (axes * (p - a)).xy());
        Some(Self { corners, axes })
    }

    /// Its area, mm².
    #[must_use]
    pub fn area_mm2(&self) -> f64 {
        0.5 * super::twice_area(&self.corners)
    }

    /// Its axes in space: the rows turn vectors into them.
    #[must_use]
    pub fn axes(&self) -> &Rotation3<f64> {
        &self.axes
    }

    /// The stiffness by the unknowns in the axes of space.
    #[must_use]
    pub fn stiffness(&self, section: &Section) -> Whole {
        let mut own = Whole::zeros();
        let stretching = membrane::stiffness(&self.corners, &section.membrane, section.poisson);
        let plate = Bending::new(&self.corners, section);
        let bent = plate.stiffness(&section.bending, section.shear);
        add(&mut own, &stretching, IN_PLANE, IN_PLANE);
        add(&mut own, &bent, OUT_OF_PLANE, OUT_OF_PLANE);
        if section.coupling != Matrix3::zeros() {
            let strain = membrane::mean_strain(&self.corners);
            let curvature = plate.mean_curvatures();
            let both = strain.transpose() * section.coupling * curvature * self.area_mm2();
            add(&mut own, &both, IN_PLANE, OUT_OF_PLANE);
            add(&mut own, &both.transpose(), OUT_OF_PLANE, IN_PLANE);
        }
        let turn = self.turn();
        turn.transpose() * own * turn
    }

    /// The mean strains under displacements and rotations in the axes of space.
    #[must_use]
    pub fn strains(&self, section: &Section, unknowns: &Unknowns) -> Strains {
        let own = self.turn() * unknowns;
        let pick = |which: [usize; 3]| SVector::<f64, 9>::from_fn(|k, _| own[UNKNOWNS * (k / 3) + which[k % 3]]);
        Strains {
            membrane: membrane::mean_strain(&self.corners) * pick(IN_PLANE),
            curvature: Bending::new(&self.corners, section).mean_curvatures() * pick(OUT_OF_PLANE),
        }
    }

    /// Turns the unknowns from the axes of space into its own.
    fn turn(&self) -> Whole {
        let mut turn = Whole::zeros();
        for k in 0..OF_TRIANGLE / 3 {
            turn.fixed_view_mut::<3, 3>(3 * k, 3 * k).copy_from(self.axes.matrix());
        }
        turn
    }
}

/// Adds what nine unknowns do to nine unknowns.
fn add(own: &mut Whole, part: &Nine, rows: [usize; 3], columns: [usize; 3]) {
    let place = |k: usize, which: [usize; 3]| UNKNOWNS * (k / 3) + which[k % 3];
    for i in 0..9 {
        for j in 0..9 {
            own[(place(i, rows), place(j, columns))] += part[(i, j)];
        }
    }
}
