//! Making a scanned surface sound: weld, drop bad faces, split what is not manifold, orient, cut, fill, smooth, refine.
//!
//! Each step is a function that returns counts of what it changed; none knows what the surface represents.

mod bilaplacian;
mod clip;
mod components;
mod faces;
mod holes;
mod noise;
mod orient;
mod plane;
mod refine;
mod smooth;
mod split;
mod weld;

pub use clip::clip_by_plane;
pub use components::{Component, components, keep_triangles};
pub use faces::{BadFaces, drop_bad_faces};
pub use holes::{Filled, fill_holes, loop_length_mm};
pub use noise::noise_mm;
pub use orient::{Oriented, orient};
pub use plane::{SupportPlane, support_plane};
pub use refine::{median_edge_mm, refine, refined_count};
pub use smooth::{Smoothed, smooth};
pub use split::{Split, make_manifold};
pub use weld::{drop_unused_points, weld};
