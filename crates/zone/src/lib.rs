//! What is to be covered: strokes, outline or pen line become regions on the skin with distances to their edges.

mod region;

pub use region::{Bump, Region, Zone};
