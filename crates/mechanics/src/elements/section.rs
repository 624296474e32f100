//! What a wall resists with: forces and moments by strains and curvatures.

use nalgebra::Matrix3;

/// The stiffness of a wall per millimetre of width, about a reference surface: membrane forces are
/// `membrane · strain + coupling · curvature`, moments are `coupling · strain + bending · curvature`, in the order xx, yy, xy
/// (the shear strain and the twist counted twice).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// N/mm.
    pub membrane: Matrix3<f64>,
    /// N.
    pub coupling: Matrix3<f64>,
    /// N·mm.
    pub bending: Matrix3<f64>,
    /// Against transverse shear, N/mm.
    pub shear: f64,
    /// Poisson's ratio.
    pub poisson: f64,
}

/// What of a wall's area carries transverse shear (Reissner 1945).
const SHEARED: f64 = 5.0 / 6.0;

impl Section {
    /// A wall of one material: Young's modulus in MPa, Poisson's ratio, thickness in mm, and how far its middle lies over the
    /// reference surface, mm (Timoshenko and Woinowsky-Krieger 1959, "Theory of Plates and Shells", § 10, with the axes moved
    /// by Steiner's rule).
    #[must_use]
    pub fn plain(young_mpa: f64, poisson: f64, thickness_mm: f64, over_mm: f64) -> Self {
        let shear = 0.5 * (1.0 - poisson);
        let plane = Matrix3::new(1.0, poisson, 0.0, poisson, 1.0, 0.0, 0.0, 0.0, shear) / (1.0 - poisson * poisson);
        let membrane = plane * (young_mpa * thickness_mm);
        Self {
            membrane,
            coupling: membrane * over_mm,
            bending: membrane * (thickness_mm * thickness_mm / 12.0 + over_mm * over_mm),
            shear: SHEARED * young_mpa * thickness_mm / (2.0 * (1.0 + poisson)),
            poisson,
        }
    }

    /// Two walls on top of each other that act as one.
    #[must_use]
    pub fn with(&self, other: &Self) -> Self {
        Self {
            membrane: self.membrane + other.membrane,
            coupling: self.coupling + other.coupling,
            bending: self.bending + other.bending,
            shear: self.shear + other.shear,
            poisson: self.poisson,
        }
    }

    /// So many times as stiff.
    #[must_use]
    pub fn scaled(&self, by: f64) -> Self {
        Self {
            membrane: self.membrane * by,
            coupling: self.coupling * by,
            bending: self.bending * by,
            shear: self.shear * by,
            poisson: self.poisson,
        }
    }
}
