//! Shapes whose size, area, volume and geodesics are known, for the tests and benches of all crates.
//!
//! A [`Shape`] is two plain arrays; [`Shape::build`] makes a `mesh::Mesh` or `mesh::Surface` of it. This crate does not
//! depend on `mesh`, so that the unit tests inside `mesh` can use it too.
//!
//! | closed | open | one-sided |
//! |---|---|---|
//! | [`cuboid`], [`tetrahedron`], [`octahedron`] | [`grid`]: any map of the unit square | [`moebius`] |
//! | [`icosphere`], [`uv_sphere`] | [`plane`], [`height_field`], [`uneven_grid`] | |
//! | [`cylinder`] (with caps), [`torus`] | [`tube`], [`even_tube`], [`even_frustum`], [`limb`] | |
//!
//! [`patches`] has irregular Delaunay triangulations of the plane that are rolled to a cylinder or a cone or laid on a
//! sphere, so that every distance on them has a closed form. [`random`] has the seeded numbers for noise.
//!
//! Triangles run counter-clockwise seen from outside, or from above for a plane. Lengths are millimetres.
//!
//! ```
//! let body = test_shapes::cuboid([2.0, 3.0, 4.0]).moved([10.0, 0.0, 0.0]);
//! assert_eq!((body.points.len(), body.triangles.len()), (8, 12));
//! ```

mod bodies;
mod grids;
pub mod patches;
pub mod random;
mod shape;

pub use bodies::{cuboid, cylinder, icosphere, octahedron, tetrahedron, torus, uv_sphere};
pub use grids::{
    Diagonals, Wrap, even_frustum, even_tube, grid, height_field, limb, moebius, plane, tube, uneven_grid,
};
pub use shape::{Arrays, Shape};
