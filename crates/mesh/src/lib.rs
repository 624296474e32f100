//! Triangle surfaces: read, write, weld, repair, nearest point and rays, geodesics, simplify, prove solid and sound.
//!
//! Everything here is plain geometry in millimetres; nothing knows about limbs or shells.
//! The one promise: functions are deterministic. The same input gives the same bytes out, on one
//! thread or many, so no result may depend on the order in which a hash map or a thread pool yields.
//!
//! Any mesh of finite numbers may be given: it need not be closed, manifold or consistently oriented unless a function
//! says so. Lengths near the largest `f32` overflow to infinity, and what is measured there means nothing; but nothing
//! panics, and every loop is bounded by the size of what it is given (`tests/extreme_numbers.rs`). A caller that may
//! meet such lengths drops or refuses them first, as `scan` does. Triangles must index points that are there. Every
//! long step takes a [`Job`] and looks at its cancel flag at least every few thousand triangles.
//!
//! Not promised: robustness of constructions. Predicates ([`solid`], rays) are exact; new points (cuts, midpoints,
//! patches) are rounded to `f32` and may come to lie on the wrong side of a neighbour by that much. A step that is
//! cancelled may leave a mesh that it was given to change half changed; what it returns is whole or an error.
//!
//! ```
//! use mesh::{Mesh, Surface};
//! use nalgebra::Point3;
//!
//! let flat = Mesh::new(
//!     vec![Point3::new(0.0, 0.0, 0.0), Point3::new(9.0, 0.0, 0.0), Point3::new(0.0, 9.0, 0.0)],
//!     vec![[0, 1, 2]],
//! );
//! let surface = Surface::new(flat);
//! let hit = surface.nearest(&Point3::new(1.0, 1.0, 4.0), None).expect("the mesh is not empty");
//! assert_eq!(surface.signed_distance(&Point3::new(1.0, 1.0, 4.0), &hit), 4.0);
//! ```

mod adjacency;
mod bvh;
mod cholesky;
mod fair;
pub mod flatten;
mod flood;
mod four;
pub mod geodesic;
mod job;
mod kept;
mod nearest_first;
mod non_manifold;
mod place;
mod poisson;
mod quadrics;
pub mod read;
pub mod repair;
pub mod simplify;
pub mod solid;
pub mod sound;
mod spatial_hash;
mod surface;
mod triangle_mesh;
mod union_find;
pub mod write;

pub use adjacency::{Adjacency, NONE};
pub use bvh::{Bvh, Hit, TriangleFeature};
pub use fair::fair_points;
pub use flood::{Flood, FloodRange, flood};
pub use job::{Cancelled, Job};
pub use nearest_first::NearestFirst;
pub use place::Place;
pub use poisson::Poisson;
pub use quadrics::{Quadric, Quadrics, Sample};
pub use spatial_hash::SpatialHash;
pub use surface::Surface;
pub use triangle_mesh::Mesh;
pub use union_find::UnionFind;
