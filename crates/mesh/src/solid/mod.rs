//! Is a mesh a printable solid: closed, manifold, outward, free of self-intersections.

mod check;
mod crossing;
mod fans;
mod intersections;
mod pairs;

pub use check::{SolidReport, check};
pub use intersections::{SelfIntersections, self_intersections};
