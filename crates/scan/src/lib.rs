//! From a scanner's file to a [`Limb`]: unit, fragments, holes, noise, axes, and the pen line.
//!
//! Nothing is changed in silence: each step adds a line to the report.

mod axes;
mod clean;
mod ends;
mod error;
mod inspect;
mod limb;
pub mod pen;
mod placement;
mod report;
mod scanned;
mod settings;
mod site;
mod size;
mod unit;

pub use clean::{Cleaned, clean};
pub use error::ScanError;
pub use inspect::{Inspection, inspect};
pub use limb::{Limb, Side};
pub use placement::Placement;
pub use report::{CleaningReport, FilledHole, Step};
pub use settings::{CleanSettings, Crop};
pub use site::BodySite;
pub use size::{LimbSize, Measure, SiteDoubt, UsualRange};
pub use unit::{Unit, UnitGuess};
