//! Distances and shortest lines measured on the skin itself.
//!
//! [`distance_to_lines`] and [`distance_from_points`] measure over the surface; [`path`] joins two skin points by
//! a locally shortest line; [`contour`] draws the line where a value is reached; [`sides`] tells the two sides of
//! closed lines apart. [`Dab`] is what a
//! brush touches, by quicker and less careful distances. Every [`SkinLine`] knows the triangle of each of its segments, so that none of this has to
//! snap a line to vertices.
//!
//! Distances are within 1 % of the smooth surface's at triangles of about 1 mm. They are not the exact distances
//! of the faceted surface: near a line they are measured along the smooth normals, so that facets do not show.

mod contour;
mod dab;
mod distance;
mod heap;
mod line;
mod march;
mod near;
mod path;
mod sides;
mod sleeve;

pub use contour::{Contour, contour};
pub use dab::Dab;
pub use distance::{WeightedPoint, distance_from_points, distance_to_lines};
pub use line::{Crossing, LineError, SkinLine};
pub use path::path;
pub use sides::sides;
