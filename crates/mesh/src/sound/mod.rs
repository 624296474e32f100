//! Is a solid fit to be printed: nowhere too thin, without sharp edges, folds and spikes.
//!
//! A closed mesh free of crossings ([`crate::solid`]) can still hold a wall that no nozzle can lay, an edge that cuts or
//! a flap folded over. What is measured is plain geometry: thickness along rays, turns between faces, angles round
//! vertices. It means something for a mesh that is a solid; any other is measured all the same and does not panic.
//! Thickness is looked at once in about a square millimetre, and closely round thin spots and sharp edges: a thin spot
//! smaller than that can be missed where no sharp edge gives it away.
//!
//! ```
//! use mesh::sound::{SoundLimits, sound};
//!
//! let plate: mesh::Mesh = test_shapes::cuboid([40.0, 30.0, 0.25]).build();
//! let report = sound(&plate, &SoundLimits::default(), &mesh::Job::silent())?;
//! assert!(!report.is_sound());
//! assert!(report.faults()[0].starts_with("The wall is 0.25 mm thin at ("));
//! # Ok::<(), mesh::Cancelled>(())
//! ```

mod clusters;
mod cut;
mod edges;
mod limits;
mod pieces;
mod report;
mod spikes;
mod spots;
mod walls;

pub use edges::{EdgePlace, SharpEdges};
pub use limits::SoundLimits;
pub use report::{SoundReport, sound, sound_and_faulty};
pub use spikes::{SpikePlace, Spikes};
pub use walls::{WallPlace, Walls};
