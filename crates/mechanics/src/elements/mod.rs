//! Shells as flat triangles with six unknowns a node: bending and shear by the discrete Kirchhoff–Mindlin triangle, stretching
//! by the optimal triangle with drilling rotations.

mod bending;
mod facet;
mod membrane;
mod section;
mod stress;
mod system;

pub use facet::{Facet, Strains};
pub use section::Section;
pub use stress::{plane_stress, principal, von_mises};
pub use system::{Assembly, Hold, SolveError, Spring, Structure, System};

use nalgebra::{SMatrix, Vector2};

/// Unknowns of a node: three displacements, mm, and three rotations about the axes, rad.
pub const UNKNOWNS: usize = 6;
/// Unknowns of a triangle.
pub const OF_TRIANGLE: usize = 3 * UNKNOWNS;

/// Corners of a triangle in its own plane, mm.
type Corners = [Vector2<f64>; 3];
/// A matrix for the nine unknowns that one part of the behaviour has.
type Nine = SMatrix<f64, 9, 9>;

/// Twice the area of a triangle, positive where its corners go round against the clock, mm².
fn twice_area([a, b, c]: &Corners) -> f64 {
    (b - a).perp(&(c - a))
}
