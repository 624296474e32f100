//! What leaves the program for one guard: print files, pictures and the summary page.
//!
//! The one promise: what is written is what was given. Both print files hold the part bit for bit, in millimetres,
//! and the same input gives the same bytes. The endings of file names are fixed ([`STL_FILE`] and the like).
//!
//! ```
//! # let part = mesh::Mesh::new(
//! #     [[0.0, 0.0, 0.0], [9.0, 0.0, 0.0], [0.0, 9.0, 0.0], [0.0, 0.0, 9.0]].map(nalgebra::Point3::from).to_vec(),
//! #     vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]],
//! # );
//! # let folder = tempfile::tempdir()?;
//! let part = print::at_origin(&part);
//! print::save(&folder.path().join(print::STL_FILE), |out| print::stl::write(&part, out, &mesh::Job::silent()))?;
//! let about = print::threemf::Metadata { title: "Guard for the left forearm".into(), ..Default::default() };
//! print::save(&folder.path().join(print::THREEMF_FILE), |out| print::threemf::write(&part, &about, out, &mesh::Job::silent()))?;
//! # Ok::<(), print::Error>(())
//! ```
//!
//! Sources: 3MF Core Specification 1.4; STL as described at fabbers.com/tech/STL_Format.

pub mod bed;
mod error;
mod hull;
mod part;
pub mod picture;
mod save;
pub mod stl;
pub mod summary;
pub mod threemf;
pub mod words;

pub use error::Error;
pub use part::{at_origin, beside_part};
pub use save::save;
pub use words::{NOT_CERTIFIED, cautions, print_hints};

/// Ending of the STL file's name, after the guard's own name.
pub const STL_FILE: &str = "shell.stl";
/// Ending of the name of the STL file of an inlay.
pub const INLAY_FILE: &str = "inlay.stl";
/// Ending of the 3MF file's name.
pub const THREEMF_FILE: &str = "shell.3mf";
/// Ending of the picture's name.
pub const PICTURE_FILE: &str = "guard.png";
/// Ending of the summary page's name.
pub const SUMMARY_FILE: &str = "summary.pdf";
