//! Making a scanned surface sound: weld, drop bad faces, split what is not manifold, orient, cut, fill, smooth, refine.
//!
//! Each step is a function of its own that says what it did in numbers; none of them knows what the surface shows.

mod bilaplacian;
mod clip;
mod faces;
mod holes;
mod noise;
mod orient;
mod pieces;
mod plane;
mod refine;
mod smooth;
mod split;
#[cfg(test)]
mod test_shapes;
mod weld;

pub use clip::clip_by_plane;
pub use faces::{BadFaces, drop_bad_faces};
pub use holes::{Filled, fill_holes, loop_length_mm};
pub use noise::noise_mm;
pub use orient::{Oriented, orient};
pub use pieces::{Piece, keep_triangles, pieces};
pub use plane::{SupportPlane, support_plane};
pub use refine::{median_edge_mm, refine, refined_count};
pub use smooth::{Smoothed, smooth};
pub use split::{Split, make_manifold};
pub use weld::{drop_unused_points, weld};
