//! Invented limbs of Tern Harbour, a women's ice-hockey club that does not exist: the project's demo scans.
//!
//! Each limb is an implicit surface built from bones and muscle bellies at handbook sizes ([`sizes`]; the trunk of the
//! body by eye), meshed, painted with skin and a pen line, and then degraded as by a hand-held scanner: noise, holes,
//! loose bits, ragged ends, an arbitrary pose and unit. The one promise: the same seed gives the same bytes on every
//! machine, by arithmetic that IEEE 754 fixes and `libm` for the functions that it leaves open.
//!
//! What it does not promise: anatomy fit for teaching. The limbs only have to exercise the program as real ones do.
//!
//! ```
//! let shin = demo_limbs::catalogue().into_iter().find(|limb| limb.file.starts_with("shin")).unwrap();
//! assert_eq!(shin.file, "shin-23.obj");
//! ```

mod catalogue;
mod form;
mod isosurface;
mod limbs;
mod model;
mod paint;
mod pen_line;
mod profile;
mod random;
mod scanner;
pub mod sizes;
mod truth;
mod write;

pub use catalogue::{DemoLimb, Format, Ink, catalogue};
pub use truth::{BonyTruth, Truth, truth_json};
pub use write::{DemoFiles, make};
