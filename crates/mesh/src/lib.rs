//! Triangle surfaces: read, write, weld, repair, measure, nearest point, geodesics, simplify.
//!
//! Everything here is plain geometry in millimetres; nothing knows about limbs or shells.
//! The one promise: functions are deterministic. The same input gives the same bytes out, on one
//! thread or many, so no result may depend on the order in which a hash map or a thread pool yields.
//!
//! ```
//! use mesh::{Mesh, Surface};
//! use nalgebra::Point3;
//!
//! let flat = Mesh::new(
//!     vec![Point3::new(0.0, 0.0, 0.0), Point3::new(9.0, 0.0, 0.0), Point3::new(0.0, 9.0, 0.0)],
//!     vec![[0, 1, 2]],
//! );
//! let skin = Surface::new(flat);
//! let hit = skin.nearest(&Point3::new(1.0, 1.0, 4.0), None).expect("the mesh is not empty");
//! assert_eq!(skin.signed_distance(&Point3::new(1.0, 1.0, 4.0), &hit), 4.0);
//! ```

mod adjacency;
mod bvh;
mod four;
pub mod geodesic;
mod job;
pub mod read;
pub mod repair;
pub mod simplify;
pub mod solid;
mod surface;
mod triangle_mesh;
pub mod write;

pub use adjacency::{Adjacency, NONE};
pub use bvh::{Bvh, Hit, TriangleFeature};
pub use job::{Cancelled, Job};
pub use surface::Surface;
pub use triangle_mesh::Mesh;
