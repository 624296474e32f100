//! How a point is written in a sentence.

use std::fmt::{self, Display, Formatter};

use nalgebra::{Point3, Scalar};

/// Shows a point with a fixed number of decimals: `(12.0, 0.0, -3.5)`, or `x 12, y 0, z -4` with `{:#}`.
///
/// ```
/// let place = nalgebra::Point3::new(12.0, -0.01, -3.5);
/// assert_eq!(mesh::Place::new(&place, 1).to_string(), "(12.0, 0.0, -3.5)");
/// assert_eq!(format!("{:#}", mesh::Place::new(&place, 0)), "x 12, y 0, z -4");
/// ```
#[derive(Debug, Clone, Copy)]
pub struct Place {
    at: [f64; 3],
    decimals: usize,
}

impl Place {
    /// To show `at` with this many decimals.
    pub fn new<T: Scalar + Copy + Into<f64>>(at: &Point3<T>, decimals: usize) -> Self {
        let scale = 10_f64.powi(decimals as i32);
        // What rounds to minus zero is shown without its minus.
        Self { at: [at[0], at[1], at[2]].map(|x| (x.into() * scale).round() / scale + 0.0), decimals }
    }
}

impl Display for Place {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let ([x, y, z], decimals) = (self.at, self.decimals);
        if f.alternate() {
            write!(f, "x {x:.decimals$}, y {y:.decimals$}, z {z:.decimals$}")
        } else {
            write!(f, "({x:.decimals$}, {y:.decimals$}, {z:.decimals$})")
        }
    }
}
