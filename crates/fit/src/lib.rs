//! How a shell sits on its limb: how far it stands off the skin, and what a cut through both looks like.
//!
//! [`clearance`] measures each point of the shell to the skin and sums up the inner face; [`section`] cuts a mesh with
//! a plane, and [`gap`] measures between two such cuts. All are plain geometry in millimetres and deterministic: the
//! same meshes give the same numbers on one thread or many.
//!
//! What this does not say: how the skin gives way under the shell, or whether the guard can be put on.
//!
//! ```
//! use mesh::{Job, Mesh, Surface};
//! use nalgebra::{Point3, Vector3};
//!
//! // A square of skin, and a square of shell 3 mm above that looks down at it.
//! let square = |z: f32| [[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0]].map(|[x, y]| Point3::new(x, y, z)).to_vec();
//! let skin = Surface::new(Mesh::new(square(0.0), vec![[0, 1, 2], [0, 2, 3]]));
//! let shell = Mesh::new(square(3.0), vec![[0, 2, 1], [0, 3, 2]]);
//! let clearance = fit::clearance(&skin, &shell, &Job::silent())?;
//! assert_eq!(clearance.figures.map(|f| f.least_mm), Some(3.0));
//!
//! let cut = fit::section(&shell, &Point3::new(4.0, 4.0, 0.0), &Vector3::x())?;
//! assert_eq!(cut.lines.len(), 1);
//! # Ok::<(), fit::FitError>(())
//! ```

mod clearance;
mod error;
mod gap;
mod inner_face;
mod section;

pub use clearance::{Clearance, Figures, clearance};
pub use error::FitError;
pub use gap::gap;
pub use inner_face::InnerFace;
pub use section::{Section, SectionLine, section};
